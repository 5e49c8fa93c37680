#pragma once

#include "statistics/line.hpp"
#include "statistics/sum.hpp"

#include <span>

namespace luxdossier::statistics {

/// Weighted means and centred sums of points: what a straight line and its derivatives are made of. Centring
/// keeps the digits that a sum of raw squares loses.
struct Centred {
    double sum_w = 0, mean_x = 0, mean_y = 0;
    double sum_xx = 0;  ///< sum of w (x - mean_x)^2
    double gain = 0;
    [[nodiscard]] double residual(double x, double y) const { return (y - mean_y) - gain * (x - mean_x); }
    [[nodiscard]] Line line() const { return {mean_y - gain * mean_x, gain}; }
};

/// Domain: equal sizes, at least 2 points, x not all equal, weights positive and finite. Errors:
/// std::domain_error.
[[nodiscard]] Centred centre(std::span<const double> x, std::span<const double> y,
                             std::span<const double> weights);

}  // namespace luxdossier::statistics
