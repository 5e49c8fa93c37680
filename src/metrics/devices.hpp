#pragma once

#include "metrics/bench.hpp"

namespace luxdossier::metrics {

/// Whose readings a column of a run holds (index into the bench's devices), where they follow one another in
/// time: of comparison, dark, position, field and near-infrared runs.
///
/// A device is a sample or a meter with the interval at which it was read: neighbours that are 1 s and 60 s
/// apart do not correlate alike. The interval is the median over the runs' sets, to the nearest power of two;
/// runs without times are apart from those. The correlation of each device comes from all its sets, in all
/// comparison runs of the qualification; it is worked out on the first call.
[[nodiscard]] std::optional<std::size_t> device_of(Bench& bench, std::size_t run, const std::string& column);

}  // namespace luxdossier::metrics
