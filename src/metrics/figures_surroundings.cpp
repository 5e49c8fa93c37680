#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"
#include "metrics/near_infrared_steps.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double celsius_zero_k = 273.15;

/// Reading error of one sample over the temperature, one series a level.
model::Panel temperature_panel(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    const auto& all = dossier.evaluation.results;
    model::Panel panel;
    panel.title = all[results.front()].sample;
    panel.x.title = "temperature / °C";
    panel.y.title = "reading error / %";
    for (const auto& level : grouped(results, [&](std::size_t i) { return text_of(all[i], "level"); })) {
        model::Series series;
        series.name = short_text(number_of(all[level.front()], "level").value_or(0)) + " lx";
        series.mark = mark_of(panel.series.size());
        series.stroke = model::Stroke::solid;
        series.colour = colour_of(panel.series.size());
        auto ordered = level;
        std::ranges::stable_sort(ordered, {},
                                 [&](std::size_t i) { return *number_of(all[i], "temperature"); });
        for (const auto i : ordered) {
            series.points.push_back(point_of(all[i], *number_of(all[i], "temperature") - celsius_zero_k));
            series.origin.results.push_back(i);
        }
        panel.series.push_back(std::move(series));
    }
    return panel;
}

const model::Result* greatest_coefficient(const model::Dossier& dossier, const std::string& configuration,
                                          const std::string& source)
{
    const model::Result* worst = nullptr;
    for (const auto i : results_of(dossier, "temperature_coefficient")) {
        const auto& result = dossier.evaluation.results[i];
        if (result.value && text_of(result, "configuration") == configuration &&
            text_of(result, "source") == source && says_more(result, worst))
            worst = &result;
    }
    return worst;
}

/// Means of the readings of one near-infrared run at each of its steps.
model::Series near_infrared_series(const model::Run& run, std::size_t place)
{
    model::Series series;
    series.name = run.sample;
    series.mark = mark_of(place);
    series.stroke = model::Stroke::solid;
    series.colour = colour_of(place);
    const auto* sensor = run.table->number("sensor");
    for (const auto& step : irradiance_steps(run)) {
        double sum = 0;
        for (const auto row : step.rows)
            sum += sensor->values.at(row);
        series.points.push_back({step.mean_w_m2, sum / static_cast<double>(step.rows.size())});
    }
    return series;
}

}  // namespace

std::vector<model::Figure> temperature_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    std::vector<std::size_t> drawn;
    for (const auto i : results_of(dossier, "reading_error"))
        if (all[i].value && number_of(all[i], "temperature"))
            drawn.push_back(i);
    std::vector<model::Figure> figures;
    for (const auto& group : grouped(drawn, [&](std::size_t i) {
             return text_of(all[i], "configuration") + "\n" + text_of(all[i], "source");
         })) {
        const std::vector<std::string> parts{text_of(all[group.front()], "configuration"),
                                             text_of(all[group.front()], "source")};
        const auto* worst = greatest_coefficient(dossier, parts[0], parts[1]);
        if (worst == nullptr)
            continue;
        model::Figure figure;
        figure.id = figure_id("temperature", parts);
        figure.family = "temperature";
        figure.kind = model::FigureKind::small_multiples;
        figure.title = "Reading error over temperature: " + listed(parts);
        for (const auto& sample : grouped(group, [&](std::size_t i) { return all[i].sample; }))
            figure.panels.push_back(temperature_panel(dossier, sample));
        share_values(figure.panels);
        figure.caption = fmt::format("Reading error of {} at each temperature, one panel a sample, whiskers: "
                                     "expanded uncertainty, most of it common to all temperatures.",
                                     listed(parts));
        figure.alternative_text =
            fmt::format("Reading error of {} over temperature: the greatest coefficient is {}, of {}.",
                        listed(parts), quantity_text(*worst->value, expanded_uncertainty_of(*worst), "%/K"),
                        worst->sample.empty() ? "the product" : worst->sample);
        figures.push_back(std::move(figure));
    }
    return figures;
}

std::vector<model::Figure> near_infrared_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    const model::Result* greatest = nullptr;
    std::vector<std::size_t> drawn;
    for (const auto i : results_of(dossier, "near_infrared_response"))
        if (all[i].value && !all[i].runs.empty() && !number_of(all[i], "level")) {
            drawn.push_back(i);
            if (says_more(all[i], greatest))
                greatest = &all[i];
        }
    if (drawn.empty())
        return {};
    model::Figure figure;
    figure.id = "near_infrared";
    figure.family = "near-infrared";
    figure.kind = model::FigureKind::small_multiples;
    figure.title = "Reading under near-infrared light";
    for (const auto& group :
         grouped(drawn, [&](std::size_t i) { return text_of(all[i], "configuration"); })) {
        model::Panel panel;
        panel.title = text_of(all[group.front()], "configuration");
        panel.x.title = "irradiance / (W/m²)";
        panel.y.title = "reading / lx";
        for (const auto i : group)
            panel.series.push_back(near_infrared_series(dossier.qualification.runs.at(all[i].runs.front()),
                                                        panel.series.size()));
        figure.panels.push_back(std::move(panel));
    }
    figure.caption =
        "Mean reading of the product at each irradiance, no visible light beside the emitter; the "
        "slope is the near-infrared response.";
    figure.alternative_text = fmt::format(
        "Reading over near-infrared irradiance: the greatest response is {}, of {}{}.",
        quantity_text(*greatest->value, expanded_uncertainty_of(*greatest), "lx/(W/m²)"),
        greatest->sample.empty() ? "the product" : greatest->sample,
        text_of(*greatest, "configuration").empty() ? "" : ", " + text_of(*greatest, "configuration"));
    return {figure};
}

}  // namespace luxdossier::metrics
