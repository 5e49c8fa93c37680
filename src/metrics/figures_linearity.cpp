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
    return model::result_id("", "", conditions);
}

model::Panel empty_reading_panel()
{
    model::Panel panel;
    panel.x = {"illuminance / lx", true, std::nullopt, std::nullopt};
    panel.y = {"reading / lx", true, std::nullopt, std::nullopt};
    return panel;
}

void add_readings(model::Panel& panel, const std::vector<const Level*>& levels, const std::string& name)
{
    const auto place = panel.series.size();
    model::Series series;
    series.name = name;
    series.mark = mark_of(place);
    series.stroke = stroke_of(place);
    series.colour = colour_of(place);
    model::Reference equal{"D = E", {}};
    for (const auto* level : levels) {
        if (!(level->illuminance_lx > 0) || !(level->reading_lx > 0))
            continue;  // a log axis has no place for a reading of zero
        series.points.push_back({level->illuminance_lx, level->reading_lx});
        series.origin.results.push_back(level->result);
        equal.points.push_back({level->illuminance_lx, level->illuminance_lx});
    }
    panel.series.push_back(std::move(series));
    if (panel.references.empty() || panel.references.front().points.size() < equal.points.size())
        panel.references = {std::move(equal)};
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
        const auto at = illuminance_of(result);
        if (!at)
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

/// One sample under one source: its levels and its deviations from the judged line.
struct Ramp {
    std::string sample;
    std::vector<std::string> parts;  ///< sample, configuration, source, run
    Line line;
    std::vector<const Level*> levels;
    Deviations below;
};

Ramp ramp_of(const model::Dossier& dossier, const std::vector<std::size_t>& deviations, const Levels& known)
{
    const auto& all = dossier.evaluation.results;
    const auto& first = all[deviations.front()];
    Ramp ramp;
    ramp.sample = first.sample;
    ramp.parts = {first.sample, text_of(first, "configuration"), text_of(first, "source"),
                  text_of(first, "run")};
    ramp.line = judged_line(dossier, deviations);
    // A level belongs to the series where any line has a deviation there; zero by construction in one, it is
    // not in all.
    std::map<double, const Level*> levels_by_illuminance;
    for (const auto i : deviations) {
        if (!all[i].illuminance_lx)
            continue;
        if (const auto level = known.find({all[i].sample, *all[i].illuminance_lx}); level != known.end())
            levels_by_illuminance[*all[i].illuminance_lx] = &level->second;
    }
    for (const auto& [at, level] : levels_by_illuminance)
        ramp.levels.push_back(level);
    ramp.below = deviation_panel(dossier, deviations, ramp.line, ramp.levels, listed(ramp.parts));
    return ramp;
}

bool has_hollow(const Ramp& ramp)
{
    return std::ranges::any_of(ramp.below.panel.series.front().points, &model::Point::hollow);
}

std::string caption_end(bool limits, bool hollow, std::size_t beyond)
{
    return fmt::format("with its expanded uncertainty{}{}{}.", limits ? ", limits and guard bands" : "",
                       hollow ? "; hollow points are zero by construction" : "", beyond_text(beyond));
}

std::string greatest_text(const Ramp& ramp, const std::string& of_sample)
{
    return fmt::format(
        "the greatest deviation from the {} line is {} of {}{} at {} lx{}.", ramp.line.line,
        quantity_text(*ramp.below.worst->value, expanded_uncertainty_of(*ramp.below.worst), "%"),
        ramp.line.relative_to, of_sample, short_text(ramp.below.worst_at_lx), limits_text(ramp.below.panel));
}

/// One sample: readings above, deviations below.
model::Figure single_figure(Ramp ramp)
{
    const auto name = listed(ramp.parts);
    model::Figure figure;
    figure.id = figure_id("linearity", ramp.parts);
    figure.family = "linearity";
    figure.kind = model::FigureKind::stacked;
    figure.half_width = true;
    figure.title = "Linearity: " + name;
    if (!ramp.levels.empty()) {
        figure.panels.push_back(empty_reading_panel());
        add_readings(figure.panels.front(), ramp.levels, name);
    }
    figure.caption =
        fmt::format("Reading against illuminance, and below it the deviation from the {} line in % of {} {}",
                    ramp.line.line, ramp.line.relative_to,
                    caption_end(!ramp.below.panel.limits.empty(), has_hollow(ramp), ramp.below.beyond));
    figure.alternative_text =
        fmt::format("Linearity of {} over {} levels: {}", name, ramp.below.panel.series.front().points.size(),
                    greatest_text(ramp, ""));
    figure.panels.push_back(std::move(ramp.below.panel));
    return figure;
}

/// Several samples: the readings of all in the first panel, then one panel of deviations a sample; of many
/// samples those with the greatest deviations, so that the figure stays on one page.
model::Figure joint_figure(std::vector<Ramp> ramps)
{
    constexpr std::size_t most_panels = 8;
    const auto samples = ramps.size();
    if (samples > most_panels)
        std::ranges::stable_sort(
            ramps, [](const Ramp& a, const Ramp& b) { return says_more(*a.below.worst, b.below.worst); });
    const std::vector<std::string> parts(ramps.front().parts.begin() + 1, ramps.front().parts.end());
    model::Figure figure;
    figure.id = figure_id("linearity", parts);
    figure.family = "linearity";
    figure.kind = model::FigureKind::small_multiples;
    figure.title = "Linearity: " + listed(parts);
    figure.panels.push_back(empty_reading_panel());
    figure.panels.front().title = "all samples";
    const Ramp* worst = nullptr;
    bool limits = false, hollow = false, one_line = true;
    std::size_t beyond = 0;
    for (const auto& ramp : ramps) {
        add_readings(figure.panels.front(), ramp.levels, ramp.sample);
        if (&ramp - ramps.data() >= static_cast<std::ptrdiff_t>(most_panels))
            put_behind(figure.panels.front().series.back());
        if (worst == nullptr || says_more(*ramp.below.worst, worst->below.worst))
            worst = &ramp;
        limits = limits || !ramp.below.panel.limits.empty();
        hollow = hollow || has_hollow(ramp);
        one_line = one_line && ramp.line == ramps.front().line;
        beyond += ramp.below.beyond;
    }
    figure.panels.front().references.front().name.clear();  // the caption names it
    figure.caption = fmt::format(
        "First the reading of every sample against illuminance, dashed: reading = illuminance{}; then, one "
        "panel a sample{}, the deviation from {} {}",
        samples > most_panels ? fmt::format(", grey: {} further samples", samples - most_panels) : "",
        samples > most_panels
            ? fmt::format(" for the {} of the greatest deviations (the workbook and the record hold all {})",
                          most_panels, samples)
            : "",
        one_line ? fmt::format("the {} line in % of {}", worst->line.line, worst->line.relative_to)
                 : "the line that its limits judge",
        caption_end(limits, hollow, beyond));
    figure.alternative_text = fmt::format("Linearity of {} samples, {}: {}", ramps.size(), listed(parts),
                                          greatest_text(*worst, " for " + worst->sample));
    // Behind the others is drawn first.
    std::ranges::stable_partition(figure.panels.front().series, &model::Series::in_background);
    for (std::size_t i = 0; i < std::min(samples, most_panels); ++i) {
        auto& panel = figure.panels.emplace_back(std::move(ramps[i].below.panel));
        panel.title = ramps[i].sample;
        panel.series.front().name = ramps[i].sample;
        panel.series.front().mark = mark_of(i);
        panel.series.front().colour = colour_of(i);
        for (auto& reference : panel.references)
            reference.name.clear();
    }
    share_values(std::span(figure.panels).subspan(1));
    return figure;
}

}  // namespace

std::vector<model::Figure> linearity_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    const auto known = levels_of(dossier);
    std::vector<model::Figure> figures;
    for (const auto& group : grouped(results_of(dossier, "linearity_deviation"),
                                     [&](std::size_t i) { return group_key(all[i]); })) {
        std::vector<Ramp> ramps;
        for (const auto& sample : grouped(group, [&](std::size_t i) { return all[i].sample; })) {
            auto ramp = ramp_of(dossier, sample, known);
            if (ramp.below.worst != nullptr)
                ramps.push_back(std::move(ramp));
        }
        const bool joint = ramps.size() > 1 &&
                           std::ranges::all_of(ramps, [](const Ramp& ramp) { return !ramp.levels.empty(); });
        if (joint)
            figures.push_back(joint_figure(std::move(ramps)));
        else
            std::ranges::transform(ramps, std::back_inserter(figures),
                                   [](Ramp& ramp) { return single_figure(std::move(ramp)); });
    }
    return figures;
}

}  // namespace luxdossier::metrics
