#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

model::Figure figure_of(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    const auto& all = dossier.evaluation.results;
    const auto& first = all[results.front()];
    const std::vector<std::string> parts{text_of(first, "configuration"), text_of(first, "source")};
    model::Figure figure;
    figure.id = figure_id("reading_error", parts);
    figure.family = "reading-error";
    figure.title = "Reading error: " + listed(parts);
    model::Panel panel;
    panel.x.title = "illuminance / lx";
    panel.x.logarithmic = true;
    panel.y.title = "reading error / %";
    std::vector<Placed> placed;
    const model::Result* worst = nullptr;
    bool left_out = false;
    const auto samples = grouped(results, [&](std::size_t i) {
        return listed({all[i].sample, text_of(all[i], "run")});
    });
    for (const auto& sample : samples) {
        model::Series series;
        series.name = listed({all[sample.front()].sample, text_of(all[sample.front()], "run")});
        series.mark = mark_of(panel.series.size());
        series.stroke = stroke_of(panel.series.size());
        series.colour = colour_of(panel.series.size());
        auto ordered = at_one_temperature(dossier, sample);
        left_out = left_out || ordered.size() < sample.size();
        std::ranges::stable_sort(ordered, {},
                                 [&](std::size_t i) { return illuminance_of(all[i]).value_or(0); });
        for (const auto i : ordered) {
            const auto at = illuminance_of(all[i]);
            if (!at || !all[i].value)
                continue;
            series.points.push_back(point_of(all[i], *at));
            series.origin.results.push_back(i);
            // Samples share the nominal level, not the evaluated illuminance: one guard band serves them all.
            placed.push_back({i, number_of(all[i], "level").value_or(*at)});
            if (says_more(all[i], worst))
                worst = &all[i];
        }
        if (!series.points.empty())
            panel.series.push_back(std::move(series));
    }
    panel.limits = limit_lines(dossier, placed, true);
    const auto beyond = frame_by_limits(panel);
    const auto behind = step_back(dossier, panel, greatest_magnitude);
    figure.caption =
        fmt::format("Reading error of {} per level, whiskers: expanded uncertainty{}{}{}{}.", listed(parts),
                    panel.limits.empty() ? "" : "; limits with their guard bands",
                    other_temperatures_text(left_out), stepped_back_text(behind), beyond_text(beyond));
    if (worst != nullptr)
        figure.alternative_text = fmt::format(
            "Reading error of {} for {} sample{}: the greatest is {}, of {} at {} lx.", listed(parts),
            samples.size(), samples.size() == 1 ? "" : "s",
            quantity_text(*worst->value, expanded_uncertainty_of(*worst), "%"),
            worst->sample.empty() ? "the product" : worst->sample, short_text(*illuminance_of(*worst)));
    figure.panels.push_back(std::move(panel));
    return figure;
}

}  // namespace

std::vector<model::Figure> reading_error_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    std::vector<model::Figure> figures;
    const auto groups = grouped(results_of(dossier, "reading_error"), [&](std::size_t i) {
        return text_of(all[i], "configuration") + "\n" + text_of(all[i], "source");
    });
    for (const auto& group : groups) {
        auto figure = figure_of(dossier, group);
        if (!figure.panels.front().series.empty())
            figures.push_back(std::move(figure));
    }
    for (auto& figure : figures)
        figure.half_width = figures.size() > 1;
    return figures;
}

}  // namespace luxdossier::metrics
