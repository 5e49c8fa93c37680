#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"
#include "metrics/ripple.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr int points_of_curve = 240;

/// Worst-case error in % over integration times from half a period to a decade beyond the product's own.
model::Series curve_of(const photometry::Ripple& ripple, const photometry::Integration& integration,
                       bool tolerances)
{
    const double from_s = 0.5 / ripple.frequency_hz;
    const double to_s = std::max(20 / ripple.frequency_hz, 3 * integration.time_s);
    model::Series series;
    series.name = tolerances ? "within tolerances" : "nominal";
    series.mark = model::Mark::none;
    series.stroke = tolerances ? model::Stroke::solid : model::Stroke::dotted;
    series.colour = colour_of(tolerances ? 0 : 1);
    for (int i = 0; i <= points_of_curve; ++i) {
        auto at = tolerances ? integration : photometry::Integration{};
        at.time_s = from_s * std::pow(to_s / from_s, static_cast<double>(i) / points_of_curve);
        const double error = 100 * photometry::worst_case(ripple.harmonics, ripple.frequency_hz, at).error;
        series.points.push_back({1000 * at.time_s, error});
    }
    return series;
}

model::Figure figure_of(const model::Dossier& dossier, const model::Result& result,
                        const photometry::Ripple& ripple, const photometry::Integration& integration)
{
    const std::vector<std::string> parts{text_of(result, "source"), text_of(result, "run")};
    model::Figure figure;
    figure.id = figure_id("ripple", parts);
    figure.family = "ripple";
    figure.title = "Ripple error over integration time: " + listed(parts);
    model::Panel panel;
    panel.x = {"integration time / ms", true, std::nullopt, std::nullopt};
    panel.y.title = "greatest error of one reading / %";
    for (const bool tolerances : {true, false})
        panel.series.push_back(curve_of(ripple, integration, tolerances));
    panel.verticals.push_back(
        {1000 * integration.time_s, 0, fmt::format("product: {} ms", short_text(1000 * integration.time_s))});
    if (const auto stated = dossier.qualification.evaluation.ripple_error) {
        const auto& points = panel.series.front().points;
        panel.references.push_back({fmt::format("{} %", short_text(100 * *stated)),
                                    {{points.front().x, 100 * *stated}, {points.back().x, 100 * *stated}}});
    }
    figure.panels.push_back(std::move(panel));
    figure.caption =
        fmt::format("Greatest error that the ripple of {} makes in one reading, over all starts of "
                    "the integration: with a frequency within 1 % and the tolerance of the "
                    "integration time, and at the nominal values.",
                    listed(parts));
    figure.alternative_text = fmt::format(
        "Ripple of {} at {} Hz: the greatest error of one reading is {} at the product's integration time of "
        "{} ms.",
        listed(parts), short_text(ripple.frequency_hz),
        quantity_text(*result.value, expanded_uncertainty_of(result), "%"),
        short_text(1000 * integration.time_s));
    return figure;
}

}  // namespace

std::vector<model::Figure> ripple_figures(const model::Dossier& dossier)
{
    std::vector<model::Figure> figures;
    for (const auto i : results_of(dossier, "ripple_error")) {
        const auto& result = dossier.evaluation.results[i];
        if (!result.value || result.runs.empty())
            continue;
        const auto& run = dossier.qualification.runs.at(result.runs.front());
        const auto integration = integration_of(dossier.qualification, &run);
        const auto found = ripple_of(run);
        if (integration && found.ripple && !found.ripple->constant)
            figures.push_back(figure_of(dossier, result, *found.ripple, *integration));
    }
    return figures;
}

}  // namespace luxdossier::metrics
