#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"
#include "metrics/settled_log.hpp"
#include "metrics/warm_up_log.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double seconds_per_minute = 60;
constexpr double percent = 100;
constexpr std::size_t buckets = 700;  // 1400 points: more than the plot has dots

/// Results of one warm-up run that its panel tells of.
struct Found {
    const model::Result* time = nullptr;
    const model::Result* drift = nullptr;
};

Found results_of_log(const model::Dossier& dossier, std::size_t run, const std::string& visit)
{
    Found found;
    for (const auto& result : dossier.evaluation.results) {
        if (result.runs.empty() || result.runs.front() != run || text_of(result, "visit") != visit)
            continue;
        if (result.metric == "warm_up_time")
            found.time = &result;
        if (result.metric == "residual_drift")
            found.drift = &result;
    }
    return found;
}

std::string settled_text(const model::Result& time)
{
    std::optional<double> u;
    if (const auto expanded = time.expanded_uncertainty())
        u = *expanded / seconds_per_minute;
    auto text = "settled after " + quantity_text(*time.value / seconds_per_minute, u, "min", 1);
    return time.undecided.empty() ? text : text + " (not decided)";
}

/// Levels of a log in per cent of its final level, thinned.
model::Series drawn_log(const LevelLog& log, double final_level, std::size_t run, const std::string& name)
{
    model::Series series;
    series.name = name;
    series.mark = model::Mark::none;
    series.stroke = model::Stroke::solid;
    series.origin.run = run;
    series.origin.x_column = "time";
    series.origin.y_column = "meter";
    for (const auto i : thinned(log.time_s, log.level, buckets))
        series.points.push_back({(log.time_s[i] - log.time_s.front()) / seconds_per_minute,
                                 percent * log.level[i] / final_level});
    return series;
}

std::string panel_title(const model::Run& run, const std::string& visit)
{
    auto title = run.source.empty() ? run.id : run.source;
    if (const auto level = run.conditions.find("level"); level != run.conditions.end())
        title += ", " + model::condition_text(level->second);
    return visit.empty() ? title : title + ", visit " + visit;
}

std::optional<model::Panel> panel_of(const model::Dossier& dossier, std::size_t index, const LogOfRun& kept,
                                     std::string& finding)
{
    const auto& qualification = dossier.qualification;
    const auto& run = qualification.runs[index];
    const auto& log = kept.log;
    const auto window_s = qualification.evaluation.settling_window_s;
    if (!window_s || log.time_s.size() < 2 || !std::ranges::is_sorted(log.time_s))
        return std::nullopt;
    const double final_level = last_window(log, *window_s).final_level;
    if (!(final_level > 0))
        return std::nullopt;
    model::Panel panel;
    panel.title = panel_title(run, kept.visit);
    panel.x.title = "time / min";
    panel.y.title = "level / % of final";
    panel.series.push_back(drawn_log(log, final_level, index, panel.title));
    const double last_min = (log.time_s.back() - log.time_s.front()) / seconds_per_minute;
    panel.references.push_back({"final", {{0, percent}, {last_min, percent}}});
    finding = panel.title;
    const auto* source = qualification.source(run.source);
    if (source != nullptr && source->settling_tolerance) {
        const double tolerance = percent * *source->settling_tolerance;
        panel.band_lower = percent - tolerance;
        panel.band_upper = percent + tolerance;
        finding += fmt::format(" (tolerance {} %)", short_text(tolerance));
    }
    const auto found = results_of_log(dossier, index, kept.visit);
    if (found.time != nullptr && found.time->value) {
        const double u = expanded_uncertainty_of(*found.time) / seconds_per_minute;
        panel.verticals.push_back({*found.time->value / seconds_per_minute, u, settled_text(*found.time)});
        finding += " " + settled_text(*found.time);
    } else {
        finding += " did not settle";
    }
    if (found.drift != nullptr && found.drift->value)
        finding +=
            fmt::format(", residual drift {}",
                        quantity_text(*found.drift->value, expanded_uncertainty_of(*found.drift), "%"));
    const auto& points = panel.series.front().points;
    const auto [least, greatest] = std::ranges::minmax(points, {}, &model::Point::y);
    finding += fmt::format(", level between {} and {} % of final", number_text(least.y, 1),
                           number_text(greatest.y, 1));
    return panel;
}

/// Small multiples share the axis of time. Levels have their own: a lamp that starts at half its level would
/// hide the tolerance of a steady one.
void settle_axes(std::vector<model::Panel>& panels)
{
    for (auto& panel : panels) {
        double least = panel.band_lower.value_or(percent), greatest = panel.band_upper.value_or(percent);
        for (const auto& point : panel.series.front().points) {
            least = std::min(least, point.y);
            greatest = std::max(greatest, point.y);
        }
        const double air = std::max(0.05 * (greatest - least), 0.01);
        panel.x.from = 0;
        panel.y.from = least - air;
        panel.y.to = greatest + air;
    }
}

}  // namespace

std::vector<model::Figure> warm_up_figures(const model::Dossier& dossier)
{
    model::Figure figure;
    figure.id = "warm_up";
    figure.family = "warm-up";
    figure.kind = model::FigureKind::small_multiples;
    figure.title = "Warm-up of the sources";
    for (std::size_t run = 0; run < dossier.qualification.runs.size(); ++run) {
        if (dossier.qualification.runs[run].kind != model::RunKind::warm_up)
            continue;
        for (const auto& log : logs_of(dossier.qualification.runs[run])) {
            std::string finding;
            if (auto panel = panel_of(dossier, run, log, finding)) {
                figure.panels.push_back(std::move(*panel));
                figure.alternative_text += (figure.alternative_text.empty() ? "Warm-up: " : "; ") + finding;
            }
        }
    }
    if (figure.panels.empty())
        return {};
    figure.alternative_text += ".";
    figure.caption =
        "Level of each source from switching on, relative to its final level; the band is the settling "
        "tolerance, the vertical mark the warm-up time with its expanded uncertainty. Of long logs the least "
        "and greatest readings of each stretch of time are drawn.";
    settle_axes(figure.panels);
    return {std::move(figure)};
}

}  // namespace luxdossier::metrics
