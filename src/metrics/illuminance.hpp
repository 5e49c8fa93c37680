#pragma once

#include "metrics/bench.hpp"
#include "metrics/readings.hpp"

namespace luxdossier::metrics {

/// The capped zero of a device that belongs to a run: the mean of its dark run, as a shared input, or nothing
/// where there is none. `column` is "meter" or "sensor".
[[nodiscard]] std::optional<Traced> capped_zero(Bench& bench, std::size_t run, std::string_view column);

/// What the factors of E = (R - R0) C A T L G F need to know besides the mean indication; K, P and S are left
/// to the caller. `linearity` names the f3 input: nominal level ("level=100lx") or the run of a position run
/// or field map
/// ("run:map").
struct IlluminanceAt {
    std::size_t run = 0;
    std::string linearity_identity;
    std::string linearity_words;  ///< "at 100 lx", "in run map"
    std::string source = {};      ///< of the light, where it is not the run's
};
/// Illuminance at the place of the meter's own reading, from its mean indication.
[[nodiscard]] Traced illuminance_at_meter(Bench& bench, const ReadingMean& indication,
                                          const IlluminanceAt& at);

/// P: distance to the plane, where the meter was placed by hand. `identity` names the placement; a stated
/// offset of the product plane is corrected only `at_product`, a reference position has none. Absent with
/// `left-out` where unknown.
[[nodiscard]] std::optional<Expression>
placement_factor(Bench& bench, std::size_t run, const std::string& identity, bool at_product, Trail& trail);
/// Distance of a run from the source, m: its own, else the geometry's.
[[nodiscard]] std::optional<double> distance_m(const Bench& bench, std::size_t run);

}  // namespace luxdossier::metrics
