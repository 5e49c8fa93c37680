#pragma once

#include "quantities.hpp"
#include "uncertainty/expression.hpp"

namespace luxdossier::test {

/// Intercept at 20 degrees and slope of the thermometer line of JCGM 100:2008, H.3, correlated by -0.930, 9
/// degrees of freedom (statsmodels 0.13.5; the fit itself is tested with the statistics).
struct CalibrationLine {
    static constexpr double u_intercept = 0.0028775978351599503, u_slope = 0.0006679387732278309,
                            correlation = -0.9304296030934458;
    uncertainty::Expression intercept, slope;
};
[[nodiscard]] inline CalibrationLine calibration_line(uncertainty::GraphBuilder& builder)
{
    constexpr double u_1 = CalibrationLine::u_intercept, u_2 = CalibrationLine::u_slope,
                     covariance = CalibrationLine::correlation * u_1 * u_2;
    CalibrationLine line{builder.input(quantity("y_1", -0.17120379013134993, u_1, 9)),
                         builder.input(quantity("y_2", 0.0021826977398872772, u_2, 9))};
    builder.group({uncertainty::InputGroup::Kind::observed_together,
                   "calibration line",
                   {builder.input_of(line.intercept), builder.input_of(line.slope)},
                   {u_1 * u_1, covariance, covariance, u_2 * u_2},
                   9});
    return line;
}

}  // namespace luxdossier::test
