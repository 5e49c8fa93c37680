#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include <algorithm>
#include <iterator>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Signal-to-noise of all samples over the illuminance.
model::Panel panel_of(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    const auto& all = dossier.evaluation.results;
    model::Panel panel;
    panel.x = {"illuminance / lx", true, std::nullopt, std::nullopt};
    panel.y = {"signal-to-noise ratio", true, std::nullopt, std::nullopt};
    for (const auto& sample : grouped(results, [&](std::size_t i) { return all[i].sample; })) {
        model::Series series;
        series.name = all[sample.front()].sample;
        series.mark = mark_of(panel.series.size());
        series.stroke = model::Stroke::solid;
        series.colour = colour_of(panel.series.size());
        auto ordered = sample;
        std::ranges::stable_sort(ordered, {}, [&](std::size_t i) { return *illuminance_of(all[i]); });
        for (const auto i : ordered) {
            series.points.push_back({*illuminance_of(all[i]), *all[i].value});
            series.origin.results.push_back(i);
        }
        panel.series.push_back(std::move(series));
    }
    return panel;
}

/// The poorest ratio of a group.
const model::Result& poorest(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    const auto& all = dossier.evaluation.results;
    return all[*std::ranges::min_element(results, {}, [&](std::size_t i) { return *all[i].value; })];
}

}  // namespace

std::vector<model::Figure> low_light_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    std::vector<std::size_t> drawn;
    for (const auto i : results_of(dossier, "signal_to_noise"))
        if (all[i].value && *all[i].value > 0 && illuminance_of(all[i]))
            drawn.push_back(i);
    std::vector<model::Figure> figures;
    for (const auto& group : grouped(drawn, [&](std::size_t i) {
             return text_of(all[i], "configuration") + "\n" + text_of(all[i], "source");
         })) {
        const auto& first = all[group.front()];
        const std::vector<std::string> parts{text_of(first, "configuration"), text_of(first, "source")};
        std::vector<std::size_t> shown;
        for (const auto& sample : grouped(group, [&](std::size_t i) { return all[i].sample; }))
            std::ranges::copy(at_one_temperature(dossier, sample), std::back_inserter(shown));
        const auto& worst = poorest(dossier, shown);
        model::Figure figure;
        figure.id = figure_id("signal_to_noise", parts);
        figure.family = "low-light";
        figure.title = "Signal-to-noise ratio: " + listed(parts);
        figure.half_width = true;
        figure.panels.push_back(panel_of(dossier, shown));
        const auto behind = step_back(dossier, figure.panels.front(), [](const model::Series& series) {
            return -std::ranges::min(series.points, {}, &model::Point::y).y;
        });
        figure.caption = fmt::format(
            "Mean reading over the standard deviation of one reading, {}, all samples{}{}.", listed(parts),
            shown.size() < group.size() ? "; what other temperatures give stands in the table" : "",
            stepped_back_text(behind));
        figure.alternative_text =
            fmt::format("Signal-to-noise ratio of {}: the least is {}, of {} at {} lx.", listed(parts),
                        short_text(*worst.value), worst.sample.empty() ? "the product" : worst.sample,
                        short_text(*illuminance_of(worst)));
        figures.push_back(std::move(figure));
    }
    return figures;
}

}  // namespace luxdossier::metrics
