#include "statistics/line.hpp"

#include "statistics/centred.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <fmt/format.h>

namespace luxdossier::statistics {
namespace {

/// Weights such as 1/u^2 may be huge or tiny; only their ratios matter to the line.
std::vector<double> weights_or_ones(std::span<const double> weights, std::size_t n)
{
    if (weights.empty())
        return std::vector<double>(n, 1.0);
    return {weights.begin(), weights.end()};
}

}  // namespace

LineFit fit_line(std::span<const double> x, std::span<const double> y, std::span<const double> weights)
{
    const auto w = weights_or_ones(weights, x.size());
    const auto centred = centre(x, y, w);
    LineFit fit;
    fit.line = centred.line();
    fit.degrees_of_freedom = static_cast<double>(x.size()) - 2.0;
    CompensatedSum squares;
    for (std::size_t index = 0; index < x.size(); ++index) {
        const double residual = centred.residual(x[index], y[index]);
        squares.add(w[index] * residual * residual);
    }
    const double variance =
        x.size() > 2 ? squares.value() / fit.degrees_of_freedom : std::numeric_limits<double>::quiet_NaN();
    fit.residual_standard_deviation = std::sqrt(variance);
    fit.standard_uncertainty_gain = std::sqrt(variance / centred.sum_xx);
    fit.standard_uncertainty_offset =
        std::sqrt(variance * (1.0 / centred.sum_w + centred.mean_x * centred.mean_x / centred.sum_xx));
    fit.covariance = -variance * centred.mean_x / centred.sum_xx;
    return fit;
}

OriginFit fit_through_origin(std::span<const double> x, std::span<const double> y)
{
    if (x.size() != y.size() || x.size() < 2)
        throw std::domain_error(
            fmt::format("found {} x and {} y, expected equal numbers of 2 or more", x.size(), y.size()));
    CompensatedSum xx, xy, squares;
    for (std::size_t index = 0; index < x.size(); ++index) {
        xx.add(x[index] * x[index]);
        xy.add(x[index] * y[index]);
    }
    if (!(xx.value() > 0.0))
        throw std::domain_error("found no x other than 0, expected one for a line through the origin");
    OriginFit fit;
    fit.gain = xy.value() / xx.value();
    for (std::size_t index = 0; index < x.size(); ++index) {
        const double residual = y[index] - fit.gain * x[index];
        squares.add(residual * residual);
    }
    fit.residual_standard_deviation = std::sqrt(squares.value() / static_cast<double>(x.size() - 1));
    fit.standard_uncertainty = fit.residual_standard_deviation / std::sqrt(xx.value());
    return fit;
}

EffectiveVarianceFit fit_effective_variance(std::span<const double> x, std::span<const double> y,
                                            std::span<const double> u_x, std::span<const double> u_y)
{
    if (u_x.size() != x.size() || u_y.size() != x.size())
        throw std::domain_error(fmt::format("found {} and {} uncertainties of {} points, expected one each",
                                            u_x.size(), u_y.size(), x.size()));
    constexpr int most_iterations = 200;
    EffectiveVarianceFit fit;
    fit.line = fit_line(x, y).line;
    for (fit.iterations = 1; fit.iterations <= most_iterations; ++fit.iterations) {
        fit.weights.clear();
        for (std::size_t index = 0; index < x.size(); ++index)
            fit.weights.push_back(
                1.0 / (u_y[index] * u_y[index] + fit.line.gain * fit.line.gain * u_x[index] * u_x[index]));
        const double before = fit.line.gain;
        fit.line = fit_line(x, y, fit.weights).line;
        // It stands where it moves by rounding only.
        if (std::abs(fit.line.gain - before) <=
            4.0 * std::numeric_limits<double>::epsilon() * std::abs(before))
            break;
    }
    return fit;
}

}  // namespace luxdossier::statistics
