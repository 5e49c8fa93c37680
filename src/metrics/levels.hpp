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

/// Rows of a column of a comparison run that make one mean.
struct RowsOfSet {
    std::string column;  ///< "sensor", "meter"
    std::vector<std::uint32_t> rows;
};
/// All sets that levels_of(run) takes means of, without taking them.
[[nodiscard]] std::vector<RowsOfSet> sets_of_levels(const Bench& bench, std::size_t run);

/// The levels of a side-by-side run from the earlier half of each level's rows alone, and from the later
/// half; both share everything but the readings. Other runs cannot be parted: their levels say so.
struct Halves {
    std::vector<LevelReading> earlier, later;
};
[[nodiscard]] Halves halves_of_levels(Bench& bench, std::size_t run);

/// A result of one level: sample, conditions of the run, level, and the evaluated E.
[[nodiscard]] model::Result level_result(const Bench& bench, const LevelReading& level, std::string metric,
                                         std::string unit);

/// u(E)/E of an illuminance whose uncertainty is known, else 0.
[[nodiscard]] double relative_uncertainty(Bench& bench, const Traced& illuminance);
/// Why a relative error tells nothing at this u(E)/E (above 0.25); empty where it does.
[[nodiscard]] std::optional<std::string> says_nothing(double relative_uncertainty);

}  // namespace luxdossier::metrics
