#pragma once

#include "metrics/bench.hpp"

namespace luxdossier::metrics {

/// How far a settled source moves between two means of n readings that lie `lag_s` apart, relative, from its
/// log: u^2 = max(0, mean over j of ((m(t_j + lag) - m(t_j))/m)^2 - 2 s^2/(n m^2)), s pooled within the
/// n-blocks, nu = number of disjoint pairs - 1. Every reading that leaves room for the pair starts one. Empty
/// where there are fewer than two disjoint pairs.
struct LevelChange {
    double standard_uncertainty = 0;
    double degrees_of_freedom = 0;
};
[[nodiscard]] std::optional<LevelChange> level_change(const SettledLog& log, double lag_s, std::size_t n);

}  // namespace luxdossier::metrics
