#include "workbook/log_window.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {

std::optional<LogWindow> LogWindow::of(const model::Dossier& dossier, const CellMap& map, std::size_t run)
{
    const auto& of_run = dossier.qualification.runs[run];
    const auto& window_s = dossier.qualification.evaluation.settling_window_s;
    const auto& rows = of_run.rows;
    // A column of levels parts the log into visits.
    if (of_run.kind != model::RunKind::warm_up || !window_s || of_run.table == nullptr || rows.empty() ||
        of_run.table->number("level") != nullptr)
        return {};
    const auto& table = *of_run.table;
    const auto* time = table.number("time");
    const auto* level = table.number("meter");
    if (time == nullptr || level == nullptr)
        return {};
    const double begin = time->values[rows.back()] - *window_s;
    std::size_t first = rows.size() - 1;
    const auto holds_both = [&](std::uint32_t row) {
        return std::isfinite(time->values[row]) && std::isfinite(level->values[row]);
    };
    while (first > 0 && time->values[rows[first - 1]] > begin && rows[first - 1] + 1 == rows[first] &&
           holds_both(rows[first - 1]))
        --first;
    const bool is_whole = first == 0 || time->values[rows[first - 1]] <= begin;
    const std::size_t n = rows.size() - first;
    if (!is_whole || !holds_both(rows.back()) || n < 3)
        return {};
    const auto range = [&](const model::NumberColumn& column) -> std::string {
        const auto number = static_cast<std::size_t>(&column - table.numbers.data());
        const auto [first_sheet, top] = map.reading(run, rows[first], number);
        const auto [last_sheet, bottom] = map.reading(run, rows.back(), number);
        return first_sheet == last_sheet ? range_reference(*first_sheet, top, bottom) : std::string{};
    };
    LogWindow window;
    window.times_ = range(*time);
    window.levels_ = range(*level);
    if (window.times_.empty())
        return {};
    window.time_s_ = std::span(time->values).subspan(rows[first], n);
    window.level_ = std::span(level->values).subspan(rows[first], n);
    return window;
}

LogWindow::Sums LogWindow::sums() const
{
    const auto n = static_cast<double>(level_.size());
    const double origin_x = time_s_.front(), origin_y = level_.front();
    double mean_x = 0, mean_y = 0;
    for (std::size_t i = 0; i < level_.size(); ++i) {
        mean_x += (time_s_[i] - origin_x) / n;
        mean_y += (level_[i] - origin_y) / n;
    }
    Sums sums{origin_y + mean_y};
    for (std::size_t i = 0; i < level_.size(); ++i) {
        const double x = time_s_[i] - origin_x - mean_x, y = level_[i] - origin_y - mean_y;
        sums.xx += x * x;
        sums.xy += x * y;
        sums.yy += y * y;
    }
    return sums;
}

Term LogWindow::slope() const
{
    const auto s = sums();
    return {fmt::format("SLOPE({0},{1})/AVERAGE({0})", levels_, times_), s.xy / s.xx / s.mean};
}

Term LogWindow::slope_uncertainty() const
{
    const auto s = sums();
    const double residual = (s.yy - s.xy * s.xy / s.xx) / (static_cast<double>(level_.size()) - 2);
    return {fmt::format("STEYX({0},{1})/SQRT(DEVSQ({1}))/AVERAGE({0})", levels_, times_),
            std::sqrt(residual / s.xx) / s.mean};
}

Term LogWindow::freedom() const
{
    return {fmt::format("COUNT({})-2", levels_), static_cast<double>(level_.size()) - 2};
}

Term LogWindow::peak_to_peak() const
{
    const auto [least, greatest] = std::ranges::minmax(level_);
    return {fmt::format("100*(MAX({0})-MIN({0}))/AVERAGE({0})", levels_),
            100 * (greatest - least) / sums().mean};
}

Term LogWindow::deviation() const
{
    const auto s = sums();
    return {fmt::format("100*STDEV({0})/AVERAGE({0})", levels_),
            100 * std::sqrt(s.yy / (static_cast<double>(level_.size()) - 1)) / s.mean};
}

}  // namespace luxdossier::workbook
