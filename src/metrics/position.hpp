#pragma once

#include "metrics/bench.hpp"

namespace luxdossier::metrics {

/// K of one position run: illuminance at the sensor over illuminance at the reference position, each by the
/// whole model but K, sharing every input. Built once per run. The trail says why where there is none.
struct PositionFactor {
    std::optional<Expression> factor;
    Trail trail;
};
[[nodiscard]] PositionFactor position_factor(Bench& bench, std::size_t position_run);

/// The position run that fits a side-by-side run best among those it names: same source, distance within 1 %,
/// same configuration, in this order of weight. Empty where it names none.
[[nodiscard]] std::optional<std::size_t> position_run_of(const Bench& bench, std::size_t run);

/// True where two distances differ by no more than 1 % (or one of them is not stated).
[[nodiscard]] bool same_distance(std::optional<double> a_m, std::optional<double> b_m);

}  // namespace luxdossier::metrics
