#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Levels at which sources were compared, by configuration: elsewhere one source stands alone.
bool compared(const model::Dossier& dossier, const std::vector<std::size_t>& differences,
              const model::Result& result)
{
    return std::ranges::any_of(differences, [&](std::size_t i) {
        const auto& difference = dossier.evaluation.results[i];
        return text_of(difference, "configuration") == text_of(result, "configuration") &&
               difference.sample == result.sample &&
               number_of(difference, "level") == number_of(result, "level") &&
               number_of(difference, "temperature") == number_of(result, "temperature");
    });
}

/// One panel a sample: reading error against illuminance, one series a source.
model::Panel panel_of(const model::Dossier& dossier, const std::vector<std::size_t>& results,
                      const std::vector<std::string>& sources)
{
    const auto& all = dossier.evaluation.results;
    model::Panel panel;
    panel.title = all[results.front()].sample;
    panel.x = {"illuminance / lx", true, std::nullopt, std::nullopt};
    panel.y.title = "reading error / %";
    for (const auto& group : grouped(results, [&](std::size_t i) { return text_of(all[i], "source"); })) {
        const auto name = text_of(all[group.front()], "source");
        const auto place = static_cast<std::size_t>(std::ranges::find(sources, name) - sources.begin());
        model::Series series;
        series.name = name;
        series.mark = mark_of(place);
        series.colour = colour_of(place);
        series.stroke = model::Stroke::solid;
        auto ordered = group;
        std::ranges::stable_sort(ordered, {}, [&](std::size_t i) { return *illuminance_of(all[i]); });
        for (const auto i : ordered) {
            series.points.push_back(point_of(all[i], *illuminance_of(all[i])));
            series.origin.results.push_back(i);
        }
        panel.series.push_back(std::move(series));
    }
    return panel;
}

/// The greatest difference between two sources in one configuration.
const model::Result* greatest_difference(const model::Dossier& dossier, const std::string& configuration)
{
    const model::Result* worst = nullptr;
    for (const auto i : results_of(dossier, "source_difference")) {
        const auto& result = dossier.evaluation.results[i];
        if (text_of(result, "configuration") == configuration && result.value && says_more(result, worst))
            worst = &result;
    }
    return worst;
}

std::string finding(const model::Result& worst)
{
    return fmt::format("the greatest difference is {} between {} and {}, of {} at {} lx",
                       quantity_text(*worst.value, expanded_uncertainty_of(worst), "%"),
                       text_of(worst, "source"), text_of(worst, "other_source"),
                       worst.sample.empty() ? "the product" : worst.sample,
                       short_text(number_of(worst, "level").value_or(worst.illuminance_lx.value_or(0))));
}

}  // namespace

std::vector<model::Figure> source_variation_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    const auto differences = results_of(dossier, "source_difference");
    if (differences.empty())
        return {};
    std::vector<std::string> sources;
    std::vector<std::size_t> drawn;
    for (const auto i : results_of(dossier, "reading_error")) {
        if (!all[i].value || !illuminance_of(all[i]) || !compared(dossier, differences, all[i]))
            continue;
        drawn.push_back(i);
        if (const auto source = text_of(all[i], "source");
            std::ranges::find(sources, source) == sources.end())
            sources.push_back(source);
    }
    std::vector<model::Figure> figures;
    for (const auto& group :
         grouped(drawn, [&](std::size_t i) { return text_of(all[i], "configuration"); })) {
        const auto configuration = text_of(all[group.front()], "configuration");
        const auto* worst = greatest_difference(dossier, configuration);
        if (worst == nullptr)
            continue;
        model::Figure figure;
        figure.id = figure_id("source_variation", {configuration});
        figure.family = "source-variation";
        figure.kind = model::FigureKind::small_multiples;
        figure.title = "Reading error by source" + (configuration.empty() ? "" : ": " + configuration);
        for (const auto& sample : grouped(group, [&](std::size_t i) { return all[i].sample; }))
            figure.panels.push_back(panel_of(dossier, sample, sources));
        share_values(figure.panels);
        figure.caption = fmt::format("Reading error under each source{}, one panel a sample, whiskers: "
                                     "expanded uncertainty; levels that were read under two sources or more.",
                                     configuration.empty() ? "" : ", " + configuration);
        figure.alternative_text = fmt::format("Reading error of {} under {} sources: {}.",
                                              configuration.empty() ? "the product" : configuration,
                                              sources.size(), finding(*worst));
        figures.push_back(std::move(figure));
    }
    return figures;
}

}  // namespace luxdossier::metrics
