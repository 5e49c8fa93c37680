#include "statistics/centred.hpp"

#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

namespace luxdossier::statistics {
namespace {

void check(std::span<const double> x, std::span<const double> y, std::span<const double> weights)
{
    if (x.size() != y.size() || x.size() != weights.size() || x.size() < 2)
        throw std::domain_error(
            fmt::format("found {} x, {} y and {} weights, expected equal numbers of 2 or more", x.size(),
                        y.size(), weights.size()));
    for (const double weight : weights)
        if (!(weight > 0.0) || !std::isfinite(weight))
            throw std::domain_error(fmt::format("found weight {}, expected a finite one above 0", weight));
}

/// Weighted mean, its own rounding taken out by a second pass.
double weighted_mean(std::span<const double> values, std::span<const double> weights, double sum_w)
{
    CompensatedSum sum, rest;
    for (std::size_t index = 0; index < values.size(); ++index)
        sum.add(weights[index] * values[index]);
    const double first = sum.value() / sum_w;
    for (std::size_t index = 0; index < values.size(); ++index)
        rest.add(weights[index] * (values[index] - first));
    return first + rest.value() / sum_w;
}

}  // namespace

Centred centre(std::span<const double> x, std::span<const double> y, std::span<const double> weights)
{
    check(x, y, weights);
    Centred centred;
    CompensatedSum sum_w, sum_xx, sum_xy;
    for (const double weight : weights)
        sum_w.add(weight);
    centred.sum_w = sum_w.value();
    centred.mean_x = weighted_mean(x, weights, centred.sum_w);
    centred.mean_y = weighted_mean(y, weights, centred.sum_w);
    for (std::size_t index = 0; index < x.size(); ++index) {
        const double deviation = x[index] - centred.mean_x;
        sum_xx.add(weights[index] * deviation * deviation);
        sum_xy.add(weights[index] * deviation * (y[index] - centred.mean_y));
    }
    centred.sum_xx = sum_xx.value();
    if (!(centred.sum_xx > 0.0))
        throw std::domain_error(fmt::format("found {} points that all have x = {}, expected two that differ",
                                            x.size(), x.front()));
    centred.gain = sum_xy.value() / centred.sum_xx;
    return centred;
}

}  // namespace luxdossier::statistics
