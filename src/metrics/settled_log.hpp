#pragma once

#include "metrics/bench.hpp"
#include "metrics/warm_up_log.hpp"

#include <string>
#include <vector>

namespace luxdossier::metrics {

/// The readings of a warm-up run that hold both time and level. They refer to the run's table where its rows
/// can be used as they stand, else to copies.
struct LogOfRun {
    LevelLog log;
    std::shared_ptr<const SettledLog::Copies> copies;
    std::string visit;  ///< "1", "2" ... where a level column comes back to the level of the run; else empty
};

/// The logs of a run: one, or one a visit where other levels were read in between (each level change starts
/// anew). A run without readings has one empty log.
[[nodiscard]] std::vector<LogOfRun> logs_of(const model::Run& run);

}  // namespace luxdossier::metrics
