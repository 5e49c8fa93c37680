#include "metrics/settled_log.hpp"

#include <cmath>

namespace luxdossier::metrics {
namespace {

using Rows = std::span<const std::uint32_t>;

/// Rows that follow each other without a gap and hold both numbers: the columns can be used as they stand.
bool usable_as_they_stand(Rows rows, std::span<const double> times, std::span<const double> levels)
{
    for (std::size_t i = 0; i < rows.size(); ++i)
        if (rows[i] != rows.front() + i || std::isnan(times[rows[i]]) || std::isnan(levels[rows[i]]))
            return false;
    return true;
}

LogOfRun log_of(Rows rows, std::span<const double> times, std::span<const double> levels)
{
    LogOfRun found;
    if (rows.empty())
        return found;
    if (usable_as_they_stand(rows, times, levels)) {
        found.log = {times.subspan(rows.front(), rows.size()), levels.subspan(rows.front(), rows.size())};
        return found;
    }
    auto copies = std::make_shared<SettledLog::Copies>();
    for (const auto row : rows) {
        if (std::isnan(times[row]) || std::isnan(levels[row]))
            continue;
        copies->time_s.push_back(times[row]);
        copies->level.push_back(levels[row]);
    }
    found.log = {copies->time_s, copies->level};
    found.copies = std::move(copies);
    return found;
}

/// Whether another nominal level was read between two rows of a run.
bool left_between(std::span<const double> nominal, std::uint32_t before, std::uint32_t after)
{
    for (auto row = before + 1; row < after; ++row)
        if (!std::isnan(nominal[row]) && nominal[row] != nominal[after])
            return true;
    return false;
}

std::vector<Rows> visits_of(const model::Run& run)
{
    const Rows rows = run.rows;
    const auto* nominal = run.table->number("level");
    std::vector<Rows> visits;
    std::size_t first = 0;
    for (std::size_t i = 1; nominal != nullptr && i < rows.size(); ++i)
        if (rows[i] != rows[i - 1] + 1 && left_between(nominal->values, rows[i - 1], rows[i])) {
            visits.push_back(rows.subspan(first, i - first));
            first = i;
        }
    visits.push_back(rows.subspan(first));
    return visits;
}

}  // namespace

std::vector<LogOfRun> logs_of(const model::Run& run)
{
    const auto* times = run.table ? run.table->number("time") : nullptr;
    const auto* levels = run.table ? run.table->number("meter") : nullptr;
    if (times == nullptr || levels == nullptr)
        return {LogOfRun{}};
    std::vector<LogOfRun> logs;
    for (const auto& visit : visits_of(run))
        logs.push_back(log_of(visit, times->values, levels->values));
    for (std::size_t i = 0; logs.size() > 1 && i < logs.size(); ++i)
        logs[i].visit = std::to_string(i + 1);
    return logs;
}

}  // namespace luxdossier::metrics
