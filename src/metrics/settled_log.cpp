#include "metrics/settled_log.hpp"

#include <cmath>

namespace luxdossier::metrics {
namespace {

/// Rows that follow each other without a gap and hold both numbers: the columns can be used as they stand.
bool usable_as_they_stand(const std::vector<std::uint32_t>& rows, std::span<const double> times,
                          std::span<const double> levels)
{
    for (std::size_t i = 0; i < rows.size(); ++i)
        if (rows[i] != rows.front() + i || std::isnan(times[rows[i]]) || std::isnan(levels[rows[i]]))
            return false;
    return true;
}

}  // namespace

LogOfRun log_of(const model::Run& run)
{
    LogOfRun found;
    const auto* times = run.table ? run.table->number("time") : nullptr;
    const auto* levels = run.table ? run.table->number("meter") : nullptr;
    if (times == nullptr || levels == nullptr || run.rows.empty())
        return found;
    if (usable_as_they_stand(run.rows, times->values, levels->values)) {
        found.log.time_s = std::span(times->values).subspan(run.rows.front(), run.rows.size());
        found.log.level = std::span(levels->values).subspan(run.rows.front(), run.rows.size());
        return found;
    }
    auto copies = std::make_shared<SettledLog::Copies>();
    for (const auto row : run.rows) {
        if (std::isnan(times->values.at(row)) || std::isnan(levels->values.at(row)))
            continue;
        copies->time_s.push_back(times->values[row]);
        copies->level.push_back(levels->values[row]);
    }
    found.log = {copies->time_s, copies->level};
    found.copies = std::move(copies);
    return found;
}

}  // namespace luxdossier::metrics
