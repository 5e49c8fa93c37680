#pragma once

#include "statistics/line.hpp"

#include <cstddef>
#include <span>
#include <vector>

namespace luxdossier::statistics {

/// fit_minimax and fit_minimax_through_first for many sets of points in a row: what a fit needs stays
/// allocated, and the search begins at the points that held the last line. One solver serves one of the two;
/// a result holds until the next fit.
class MinimaxSolver {
public:
    const MinimaxFit& fit(std::span<const double> x, std::span<const double> y);
    const MinimaxFit& fit_through_first(std::span<const double> x, std::span<const double> y);

private:
    void sort(std::span<const double> x, std::span<const double> y);
    [[nodiscard]] bool exchange(std::span<const double> x, std::span<const double> y);
    [[nodiscard]] bool exchange_through_first(std::span<const double> x, std::span<const double> y);
    std::vector<std::size_t> order_, chain_;
    std::vector<bool> is_corner_;
    std::vector<double> heights_;  ///< of the points over a line, while exchanging
    MinimaxFit best_;
};

}  // namespace luxdossier::statistics
