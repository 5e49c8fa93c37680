#pragma once

#include "metrics/bench.hpp"

#include <span>

namespace luxdossier::metrics {

/// Weights of the least-squares line, 1/(u^2(D_i) + b^2 u^2(E_i)), from the inputs that act on exactly one
/// level; their covariance is left out. An input acts on a level where its sensitivity in D or E of that
/// level, times u, exceeds 1e-9 of u(D) or u(E). `arguments` are E_1..E_n, D_1..D_n. Empty where a level has
/// no such input, so that its weight would be infinite.
[[nodiscard]] std::optional<std::vector<double>> line_weights(Bench& bench,
                                                              std::span<const Expression> arguments,
                                                              std::span<const double> e_lx,
                                                              std::span<const double> d_lx);

}  // namespace luxdossier::metrics
