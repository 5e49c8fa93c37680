#pragma once

#include "metrics/bench.hpp"

namespace luxdossier::metrics {

/// One nominal level of a comparison run: the product's reading D and the evaluated illuminance E at the
/// sensor.
struct LevelReading {
    std::size_t run = 0;
    std::optional<double> level_lx;     ///< nominal; absent where the run states none
    std::optional<Traced> reading;      ///< D
    std::optional<Traced> illuminance;  ///< E
    Trail trail;                        ///< why one of the two is missing
};

/// The levels of a comparison run in the order of their first readings; built once, shared by all families.
[[nodiscard]] const std::vector<LevelReading>& levels_of(Bench& bench, std::size_t run);

/// A result of one level: sample, conditions of the run, level, and the evaluated E.
[[nodiscard]] model::Result level_result(const Bench& bench, const LevelReading& level, std::string metric,
                                         std::string unit);

}  // namespace luxdossier::metrics
