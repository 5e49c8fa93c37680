#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// The reference line that is drawn.
struct Line {
    std::string line = "independent";
    std::string relative_to = "span";
    auto operator<=>(const Line&) const = default;
};

Line line_of(const model::Result& result)
{
    return {text_of(result, "line"), text_of(result, "relative_to")};
}

/// The line that the limits judge for these results, else the independent one, relative to the span.
Line judged_line(const model::Dossier& dossier, const std::vector<std::size_t>& deviations)
{
    for (const auto& verdict : dossier.verdicts.verdicts)
        if (verdict.result && std::ranges::find(deviations, *verdict.result) != deviations.end())
            return line_of(dossier.evaluation.results[*verdict.result]);
    return {};
}

/// What is known of one level of the series: its illuminance, the reading there, and the deviation from the
/// line.
struct Level {
    double illuminance_lx = 0;
    double reading_lx = 0;
    std::size_t result = 0;  ///< of the reading difference
};

/// Levels by sample and evaluated illuminance: results of one level carry the same number.
using Levels = std::map<std::pair<std::string, double>, Level>;

/// E and D of all levels, D = E + (D - E).
Levels levels_of(const model::Dossier& dossier)
{
    Levels levels;
    const auto& all = dossier.evaluation.results;
    for (const auto i : results_of(dossier, "reading_difference"))
        if (all[i].value && all[i].illuminance_lx) {
            const double e_lx = *all[i].illuminance_lx;
            levels[{all[i].sample, e_lx}] = {e_lx, e_lx + *all[i].value, i};
        }
    return levels;
}

std::string group_key(const model::Result& result)
{
    auto conditions = result.conditions;
    for (const auto* name : {"line", "relative_to", "level", "distance", "meter_temperature"})
        conditions.erase(name);
    return model::result_id("", result.sample, conditions);
}

model::Panel reading_panel(const std::vector<const Level*>& levels, const std::string& name)
{
    model::Panel panel;
    panel.x = {"illuminance / lx", true, std::nullopt, std::nullopt};
    panel.y = {"reading / lx", true, std::nullopt, std::nullopt};
    model::Series series;
    series.name = name;
    series.stroke = model::Stroke::solid;
    model::Reference equal{"D = E", {}};
    for (const auto* level : levels) {
        if (!(level->illuminance_lx > 0) || !(level->reading_lx > 0))
            continue;  // a log axis has no place for a reading of zero
        series.points.push_back({level->illuminance_lx, level->reading_lx});
        series.origin.results.push_back(level->result);
        equal.points.push_back({level->illuminance_lx, level->illuminance_lx});
    }
    panel.series.push_back(std::move(series));
    panel.references.push_back(std::move(equal));
    return panel;
}

/// The deviations below: results with whiskers, and hollow points at levels that are zero by construction.
struct Deviations {
    model::Panel panel;
    const model::Result* worst = nullptr;
    double worst_at_lx = 0;
    std::size_t beyond = 0;  ///< deviations beyond the frame
};

Deviations deviation_panel(const model::Dossier& dossier, const std::vector<std::size_t>& deviations,
                           const Line& line, const std::vector<const Level*>& levels, const std::string& name)
{
    const auto& all = dossier.evaluation.results;
    Deviations found;
    auto& panel = found.panel;
    panel.x = {"illuminance / lx", true, std::nullopt, std::nullopt};
    panel.y.title = "deviation / % of " + line.relative_to;
    struct Drawn {
        model::Point point;
        std::size_t result;
    };
    std::map<double, Drawn> drawn;
    std::vector<Placed> placed;
    for (const auto i : deviations) {
        const auto& result = all[i];
        if (line_of(result) != line || !result.value)
            continue;
        const auto at = result.illuminance_lx ? result.illuminance_lx : number_of(result, "level");
        if (!at || !(*at > 0))
            continue;
        drawn[*at] = {point_of(result, *at), i};
        placed.push_back({i, *at});
        if (says_more(result, found.worst)) {
            found.worst = &result;
            found.worst_at_lx = *at;
        }
    }
    for (const auto* level : levels)
        if (level->illuminance_lx > 0 && !drawn.contains(level->illuminance_lx))
            drawn[level->illuminance_lx] = {{level->illuminance_lx, 0, 0, 0, true}, level->result};
    model::Series series;
    series.name = name;
    for (const auto& [at, one] : drawn) {
        series.points.push_back(one.point);
        series.origin.results.push_back(one.result);
    }
    if (!drawn.empty())
        panel.references.push_back({"line", {{drawn.begin()->first, 0}, {drawn.rbegin()->first, 0}}});
    panel.series.push_back(std::move(series));
    panel.limits = limit_lines(dossier, placed, true);
    found.beyond = frame_by_limits(panel);
    return found;
}

std::string limits_text(const model::Panel& panel)
{
    std::string text;
    for (const auto& limit : panel.limits) {
        const auto& points = limit.points;
        const bool constant =
            std::ranges::all_of(points, [&](const auto& p) { return p.y == points.front().y; });
        if (constant)
            text += fmt::format("{}{} limit {} %", text.empty() ? "; " : ", ",
                                limit.upper ? "upper" : "lower", short_text(points.front().y));
    }
    return text;
}

std::optional<model::Figure> figure_of(const model::Dossier& dossier,
                                       const std::vector<std::size_t>& deviations, const Levels& known)
{
    const auto& all = dossier.evaluation.results;
    const auto& first = all[deviations.front()];
    const auto line = judged_line(dossier, deviations);
    const std::vector<std::string> parts{first.sample, text_of(first, "configuration"),
                                         text_of(first, "source"), text_of(first, "run")};
    // A level belongs to the series where any line has a deviation there; zero by construction in one, it is
    // not in all.
    std::map<double, const Level*> levels_by_illuminance;
    for (const auto i : deviations) {
        if (!all[i].illuminance_lx)
            continue;
        if (const auto level = known.find({all[i].sample, *all[i].illuminance_lx}); level != known.end())
            levels_by_illuminance[*all[i].illuminance_lx] = &level->second;
    }
    std::vector<const Level*> levels;
    for (const auto& [at, level] : levels_by_illuminance)
        levels.push_back(level);
    auto below = deviation_panel(dossier, deviations, line, levels, listed(parts));
    if (below.worst == nullptr)
        return std::nullopt;
    model::Figure figure;
    figure.id = figure_id("linearity", parts);
    figure.family = "linearity";
    figure.kind = model::FigureKind::stacked;
    figure.half_width = true;
    figure.title = "Linearity: " + listed(parts);
    if (!levels.empty())
        figure.panels.push_back(reading_panel(levels, listed(parts)));
    const bool has_hollow = std::ranges::any_of(below.panel.series.front().points, &model::Point::hollow);
    figure.caption =
        fmt::format("Reading against illuminance, and below it the deviation from the {} line in % of {} "
                    "with its expanded uncertainty{}{}{}.",
                    line.line, line.relative_to, below.panel.limits.empty() ? "" : ", limits and guard bands",
                    has_hollow ? "; hollow points are zero by construction" : "", beyond_text(below.beyond));
    figure.alternative_text = fmt::format(
        "Linearity of {} over {} levels: the greatest deviation from the {} line is {} of {} at {} lx{}.",
        listed(parts), below.panel.series.front().points.size(), line.line,
        quantity_text(*below.worst->value, expanded_uncertainty_of(*below.worst), "%"), line.relative_to,
        short_text(below.worst_at_lx), limits_text(below.panel));
    figure.panels.push_back(std::move(below.panel));
    return figure;
}

}  // namespace

std::vector<model::Figure> linearity_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    const auto known = levels_of(dossier);
    std::vector<model::Figure> figures;
    for (const auto& group : grouped(results_of(dossier, "linearity_deviation"),
                                     [&](std::size_t i) { return group_key(all[i]); }))
        if (auto figure = figure_of(dossier, group, known))
            figures.push_back(std::move(*figure));
    return figures;
}

}  // namespace luxdossier::metrics
