#include "layout/plots/rows.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::layout {
namespace {

constexpr double least_row = 4.6, line_height = 3.5, row_air = 1.3;
constexpr double share_of_names = 0.42, greatest_share_of_names = 0.6;
constexpr std::size_t many_rows = 12;
constexpr double highest_mm = 190;  // what a page holds beside title, axis, legend and caption

TypeStyle name_style()
{
    TypeStyle style = plot_label;
    style.role = "row-name";
    return style;
}

std::vector<std::string> names_of(const model::Figure& figure)
{
    std::vector<std::string> names;
    for (const auto& bar : figure.bars)
        names.push_back(bar.name);
    for (const auto& strip : figure.strips)
        names.push_back(strip.name);
    if (figure.kind == model::FigureKind::dots && figure.panels.size() == 1)
        names = figure.panels.front().x.categories;
    return names;
}

/// All panels of one axis of values, whatever rows they show.
void fix_values(model::Panel& panel)
{
    if (panel.y.from && panel.y.to)
        return;
    double from = panel.y.from.value_or(INFINITY), to = panel.y.to.value_or(-INFINITY);
    const auto add = [&](double value) {
        if (!std::isfinite(value) || (panel.y.logarithmic && value <= 0))
            return;
        from = panel.y.from ? from : std::min(from, value);
        to = panel.y.to ? to : std::max(to, value);
    };
    for (const auto& series : panel.series) {
        for (const auto& point : series.points) {
            add(point.y - point.u_lower);
            add(point.y);
            add(point.y + point.u_upper);
        }
    }
    for (const auto& limit : panel.limits) {
        for (const auto& point : limit.points)
            add(point.y);
    }
    if (from < to) {
        const double air = panel.y.logarithmic ? 0 : 0.04 * (to - from);
        panel.y.from = panel.y.from.value_or(from - air);
        panel.y.to = panel.y.to.value_or(to + air);
    }
}

/// The rows [first, last) of a figure.
model::Figure part_of(const model::Figure& figure, std::size_t first, std::size_t last)
{
    model::Figure part = figure;
    const auto cut = [&](auto& rows) {
        if (rows.size() >= last)
            rows = {rows.begin() + static_cast<std::ptrdiff_t>(first),
                    rows.begin() + static_cast<std::ptrdiff_t>(last)};
    };
    cut(part.bars);
    cut(part.strips);
    if (figure.kind != model::FigureKind::dots)
        return part;
    auto& panel = part.panels.front();
    cut(panel.x.categories);
    const double before = static_cast<double>(first), rows = static_cast<double>(last - first);
    for (auto& series : panel.series) {
        std::erase_if(series.points, [&](const model::Point& point) {
            return point.x < before + 0.5 || point.x >= before + rows + 0.5;
        });
        for (auto& point : series.points)
            point.x -= before;
    }
    const auto shift = [&](std::vector<model::Point>& points) {
        for (auto& point : points)
            point.x = std::clamp(point.x - before, 0.5, rows + 0.5);
    };
    for (auto& limit : panel.limits) {
        shift(limit.points);
        shift(limit.acceptance);
    }
    for (auto& reference : panel.references)
        shift(reference.points);
    return part;
}

/// The first row of each part, where no part is higher than that (a row that is has a part of its own).
std::vector<std::size_t> part_starts(const NamedRows& rows, double highest)
{
    std::vector<std::size_t> starts{0};
    for (std::size_t row = 1; row < rows.names.size(); ++row)
        if (rows.edges[row + 1] - rows.edges[starts.back()] > highest)
            starts.push_back(row);
    return starts;
}

}  // namespace

NamedRows place_rows(const Fonts& fonts, const std::vector<std::string>& names, double width_mm)
{
    const auto style = name_style();
    double widest = 0;
    for (const auto& name : names)
        widest = std::max(widest, fonts.width(name, style.face, style.size_pt, style.tabular));
    const double share = names.size() > many_rows ? greatest_share_of_names : share_of_names;
    NamedRows rows;
    for (const auto& name : names) {
        auto lines = break_lines(fonts, {{name, report::Style::plain}}, style,
                                 std::min(widest + 0.2, share * width_mm));
        for (const auto& line : lines)
            rows.name_width = std::max(rows.name_width, line.width);
        const double high = line_height * static_cast<double>(lines.size()) + row_air;
        rows.edges.push_back(rows.edges.back() + std::max(least_row, high));
        rows.names.push_back(std::move(lines));
    }
    return rows;
}

void draw_name(Canvas& canvas, const NamedRows& rows, std::size_t row, double x, double middle, bool left)
{
    const auto style = name_style();
    const auto& lines = rows.names.at(row);
    double baseline =
        middle + pt(style.size_pt * 0.36) - line_height * (static_cast<double>(lines.size()) - 1) / 2;
    for (const auto& line : lines) {
        draw_line(canvas, line, {left ? x : x - line.width, baseline}, style);
        baseline += line_height;
    }
}

std::vector<model::Figure> split_rows(const Fonts& fonts, const model::Figure& figure, double width_mm)
{
    const auto names = names_of(figure);
    const auto rows = place_rows(fonts, names, width_mm);
    if (rows.height() <= highest_mm)
        return {figure};
    model::Figure whole = figure;
    if (figure.kind == model::FigureKind::dots)
        fix_values(whole.panels.front());
    // As many parts as have to be, of like heights.
    auto starts = part_starts(rows, highest_mm);
    double highest_row = 0;
    for (std::size_t row = 0; row < names.size(); ++row)
        highest_row = std::max(highest_row, rows.edges[row + 1] - rows.edges[row]);
    const double even = rows.height() / static_cast<double>(starts.size()) + highest_row;
    if (auto evener = part_starts(rows, std::min(even, highest_mm)); evener.size() == starts.size())
        starts = std::move(evener);
    std::vector<model::Figure> parts;
    for (std::size_t part = 0; part < starts.size(); ++part)
        parts.push_back(
            part_of(whole, starts[part], part + 1 < starts.size() ? starts[part + 1] : names.size()));
    for (std::size_t i = 0; i < parts.size(); ++i) {
        parts[i].title += fmt::format(" ({} of {})", i + 1, parts.size());
        if (i + 1 < parts.size())
            parts[i].caption.clear();
    }
    return parts;
}

}  // namespace luxdossier::layout
