#pragma once

#include "metrics/bench.hpp"
#include "metrics/warm_up_log.hpp"

namespace luxdossier::metrics {

/// The readings of a warm-up run that hold both time and level. They refer to the run's table where its rows
/// can be used as they stand, else to copies.
struct LogOfRun {
    LevelLog log;
    std::shared_ptr<const SettledLog::Copies> copies;
};
[[nodiscard]] LogOfRun log_of(const model::Run& run);
[[nodiscard]] inline LogOfRun log_of(const Bench& bench, std::size_t run)
{
    return log_of(bench.run(run));
}

}  // namespace luxdossier::metrics
