#pragma once

#include "uncertainty/graph.hpp"

#include <memory>
#include <span>
#include <vector>

namespace luxdossier::statistics {

/// A straight line y = offset + gain x.
struct Line {
    double offset = 0;
    double gain = 0;
};

/// Ordinary or weighted least squares (weights may be empty: all equal). Centred sums, so that NIST StRD
/// Norris holds. Domain: at least 2 points, x not all equal; weights positive and finite. Errors:
/// std::domain_error. Two points leave no residuals: the uncertainties are NaN then. Where weights are
/// 1/u(y)^2, those that are not scaled by the residuals (ISO/TS 28037:2010, clause 6) are the given ones
/// divided by the residual standard deviation.
struct LineFit {
    Line line;
    double standard_uncertainty_offset = 0;  ///< from the residuals, n - 2 (JCGM 100:2008, H.3)
    double standard_uncertainty_gain = 0;
    double covariance = 0;
    double residual_standard_deviation = 0;
    double degrees_of_freedom = 0;
};
[[nodiscard]] LineFit fit_line(std::span<const double> x, std::span<const double> y,
                               std::span<const double> weights = {});
/// Gain through the origin and its standard uncertainty (NIST StRD NoInt1).
struct OriginFit {
    double gain = 0;
    double standard_uncertainty = 0;
    double residual_standard_deviation = 0;
};
[[nodiscard]] OriginFit fit_through_origin(std::span<const double> x, std::span<const double> y);

/// Line with weights 1/(u_y^2 + b^2 u_x^2), b iterated until it stands (effective variance, Orear 1982).
/// Returns the line and the final weights. Domain: as fit_line; uncertainties not negative, not both
/// 0 at a point.
struct EffectiveVarianceFit {
    Line line;
    std::vector<double> weights;
    int iterations = 0;
};
[[nodiscard]] EffectiveVarianceFit fit_effective_variance(std::span<const double> x,
                                                          std::span<const double> y,
                                                          std::span<const double> u_x,
                                                          std::span<const double> u_y);

/// Line of least greatest deviation |y - a - b x| (Chebyshev). `active` are the indices of the points that
/// hold it (three, alternating); through_first: the line passes through the point with the lowest x (two
/// active points, in order of x). Domain: at least 3 points (through_first: 3), x not all equal; for few
/// points: the cost grows as n^3.
struct MinimaxFit {
    Line line;
    double deviation = 0;
    std::vector<std::size_t> active;
};
[[nodiscard]] MinimaxFit fit_minimax(std::span<const double> x, std::span<const double> y);
[[nodiscard]] MinimaxFit fit_minimax_through_first(std::span<const double> x, std::span<const double> y);

/// Estimators for the graph: inputs x_1..x_n, y_1..y_n; outputs offset, gain.
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator>
weighted_line_estimator(std::vector<double> weights);
/// Derivatives hold on the active set at the inputs given; its outputs are stored in a workbook.
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator> minimax_line_estimator(bool through_first);
/// Unweighted slope of ln y on ln x: one output.
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator> log_log_slope_estimator();

}  // namespace luxdossier::statistics
