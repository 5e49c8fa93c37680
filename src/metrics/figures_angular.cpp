#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double degree_per_rad = 180 / std::numbers::pi;

/// What the results of one polar figure share: sample and all conditions but plane, angle and what belongs to
/// a plane.
std::string group_key(const model::Result& result)
{
    auto conditions = result.conditions;
    for (const auto* name : {"plane", "angle", "side", "crossing", "run"})
        conditions.erase(name);
    return model::result_id("", result.sample, conditions);
}

/// A plane as it was read: twice read planes are told apart by their run.
std::string plane_name(const model::Result& result)
{
    const auto plane = number_of(result, "plane");
    return listed({plane ? fmt::format("plane {}\u00B0", short_text(*plane)) : "", text_of(result, "run")});
}

model::Series series_of(const model::Dossier& dossier, const std::vector<std::size_t>& responses,
                        std::size_t index)
{
    const auto& all = dossier.evaluation.results;
    model::Series series;
    series.name = plane_name(all[responses.front()]);
    series.mark = mark_of(index);
    series.stroke = model::Stroke::solid;
    series.colour = colour_of(index);
    auto ordered = responses;
    std::ranges::stable_sort(ordered, {},
                             [&](std::size_t i) { return number_of(all[i], "angle").value_or(0); });
    const auto* configuration =
        dossier.qualification.configuration(text_of(all[responses.front()], "configuration"));
    const bool from_axis = configuration == nullptr || !configuration->reference_is_peak;
    for (const auto i : ordered) {
        const auto angle = number_of(all[i], "angle");
        if (!angle || !all[i].value)
            continue;
        // At the reference on the axis the response is 1 by construction, no result.
        if (from_axis && *angle > 0 && (series.points.empty() || series.points.back().x < 0)) {
            series.points.push_back({0, 1, 0, 0, true});
            series.origin.results.push_back(i);
        }
        series.points.push_back(point_of(all[i], *angle));
        series.origin.results.push_back(i);
    }
    return series;
}

std::vector<model::Reference> target_of(const model::Dossier& dossier, const std::string& configuration_id)
{
    const auto* configuration = dossier.qualification.configuration(configuration_id);
    if (configuration == nullptr)
        return {};
    model::Reference reference;
    if (configuration->target_is_cosine) {
        reference.name = "cosine";
        for (int degree = -90; degree <= 90; degree += 2)
            reference.points.push_back({static_cast<double>(degree),
                                        std::abs(degree) == 90 ? 0.0 : std::cos(degree / degree_per_rad)});
    } else if (configuration->target) {
        reference.name = "target";
        const auto& target = *configuration->target;
        const bool one_sided = !target.x.empty() && target.x.front() >= 0;
        for (std::size_t i = target.x.size(); one_sided && i-- > 0;)
            if (target.x[i] != 0)
                reference.points.push_back({-target.x[i] * degree_per_rad, target.y[i]});
        for (std::size_t i = 0; i < target.x.size(); ++i)
            reference.points.push_back({target.x[i] * degree_per_rad, target.y[i]});
    }
    if (reference.points.empty())
        return {};
    return {std::move(reference)};
}

/// Half-response angles as marks across the 50 % ring, and in words.
void add_half_angles(const model::Dossier& dossier, const std::string& key, model::Figure& figure,
                     std::string& words)
{
    for (const auto& result : dossier.evaluation.results) {
        if (result.metric != "half_response_angle" || group_key(result) != key || !result.value ||
            !result.combined)
            continue;
        const auto& series = figure.panels.front().series;
        const auto found = std::ranges::find(series, plane_name(result), &model::Series::name);
        if (found == series.end())
            continue;
        const bool negative = text_of(result, "side") == "negative";
        const double u = expanded_uncertainty_of(result);
        const auto text = quantity_text(*result.value, u, "\u00B0");
        figure.angles.push_back(
            {negative ? -*result.value : *result.value, u, text, static_cast<int>(found - series.begin())});
        words += fmt::format("{}{} {} side {}", words.empty() ? "" : ", ", found->name,
                             negative ? "negative" : "positive", text);
    }
}

std::string index_words(const model::Dossier& dossier, const std::string& key)
{
    std::string words;
    for (const auto& result : dossier.evaluation.results)
        if (result.metric == "directional_index" && group_key(result) == key && result.value)
            words += fmt::format("{}{} {}", words.empty() ? "" : ", ",
                                 text_of(result, "plane") == "mean" ? "mean" : plane_name(result),
                                 quantity_text(*result.value, expanded_uncertainty_of(result), "%"));
    return words;
}

model::Figure figure_of(const model::Dossier& dossier, const std::vector<std::size_t>& responses)
{
    const auto& all = dossier.evaluation.results;
    const auto& first = all[responses.front()];
    const std::vector<std::string> parts{first.sample, text_of(first, "configuration"),
                                         text_of(first, "source")};
    model::Figure figure;
    figure.id = figure_id("angular", parts);
    figure.family = "angular";
    figure.kind = model::FigureKind::polar;
    figure.title = "Angular response: " + listed(parts);
    figure.half_width = true;
    model::Panel panel;
    panel.x.title = "angle / \u00B0";
    panel.y.title = "response relative to the reference";
    panel.y.from = 0;
    std::vector<Placed> placed;
    for (const auto& plane : grouped(responses, [&](std::size_t i) { return plane_name(all[i]); })) {
        panel.series.push_back(series_of(dossier, plane, panel.series.size()));
        for (const auto i : plane)
            if (const auto angle = number_of(all[i], "angle"); angle && all[i].value)
                placed.push_back({i, *angle});
    }
    panel.references = target_of(dossier, parts[1]);
    panel.limits = limit_lines(dossier, placed, false);
    figure.panels.push_back(std::move(panel));
    const auto key = group_key(first);
    std::string half_angles;
    add_half_angles(dossier, key, figure, half_angles);
    const auto index = index_words(dossier, key);
    figure.caption = fmt::format(
        "Angular response of {}; bars across the 50 % ring are the half-response angles, as long as "
        "their expanded uncertainty{}.",
        listed(parts), figure.panels.front().references.empty() ? "" : ", dashed the target");
    figure.alternative_text = fmt::format("Angular response of {}: half-response angles {}{}.", listed(parts),
                                          half_angles.empty() ? "not decided" : half_angles,
                                          index.empty() ? "" : "; directional response index " + index);
    return figure;
}

}  // namespace

std::vector<model::Figure> angular_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    std::vector<model::Figure> figures;
    for (const auto& group :
         grouped(results_of(dossier, "angular_response"), [&](std::size_t i) { return group_key(all[i]); })) {
        auto figure = figure_of(dossier, group);
        const bool seen =
            std::ranges::any_of(figures, [&](const auto& other) { return other.id == figure.id; });
        if (seen)  // further conditions tell the groups apart: number them
            figure.id += fmt::format("/{}", figures.size() + 1);
        figures.push_back(std::move(figure));
    }
    return figures;
}

}  // namespace luxdossier::metrics
