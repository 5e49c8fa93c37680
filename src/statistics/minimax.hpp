#pragma once

#include "statistics/line.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace luxdossier::statistics {

/// fit_minimax and fit_minimax_through_first for many sets of points in a row: what a fit needs stays
/// allocated, and the points that held the last line are tried first. One solver serves one of the two; a
/// result holds until the next fit.
class MinimaxSolver {
public:
    const MinimaxFit& fit(std::span<const double> x, std::span<const double> y);
    const MinimaxFit& fit_through_first(std::span<const double> x, std::span<const double> y);

private:
    void sort(std::span<const double> x, std::span<const double> y);
    [[nodiscard]] bool still_hold(std::span<const double> x, std::span<const double> y);
    [[nodiscard]] bool still_hold_through_first(std::span<const double> x, std::span<const double> y);
    std::vector<std::size_t> order_, chain_;
    std::vector<bool> is_corner_;
    MinimaxFit best_;
    double side_ = 0;  ///< of the edge that best_ lies along: 1 upper, -1 lower
};

}  // namespace luxdossier::statistics
