#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include "photometry/spectrum.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

model::Series curve_of(const std::string& name, const model::CurveFile& curve, model::Stroke stroke,
                       int colour)
{
    model::Series series;
    series.name = name;
    series.mark = model::Mark::none;
    series.stroke = stroke;
    series.colour = colour;
    const double greatest = *std::ranges::max_element(curve.y);
    for (std::size_t i = 0; i < curve.x.size(); ++i)
        series.points.push_back({1e9 * curve.x[i], curve.y[i] / greatest});
    return series;
}

bool drawable(const model::CurveFile& curve)
{
    return curve.x.size() > 1 && *std::ranges::max_element(curve.y) > 0;
}

}  // namespace

std::vector<model::Figure> spectra_figures(const model::Dossier& dossier)
{
    const auto& qualification = dossier.qualification;
    if (results_of(dossier, "mismatch_index").empty())
        return {};
    model::Figure figure;
    figure.id = "spectra";
    figure.family = "spectra";
    figure.kind = model::FigureKind::stacked;
    figure.title = "Spectra of the sources and responsivities over V(λ)";
    model::Panel sources, devices;
    sources.y.title = "relative power";
    devices.y.title = "relative responsivity";
    for (auto* panel : {&sources, &devices}) {
        panel->x = {"wavelength / nm", false, 380, std::nullopt};
        model::Reference eye{"V(λ)", {}};
        for (int nm = 380; nm <= 780; nm += 4)
            eye.points.push_back({static_cast<double>(nm), photometry::luminous_efficiency(nm)});
        panel->references.push_back(std::move(eye));
    }
    for (const auto& source : qualification.sources)
        if (source.spectrum && drawable(*source.spectrum))
            sources.series.push_back(curve_of(source.id, *source.spectrum, model::Stroke::solid,
                                              colour_of(sources.series.size())));
    for (const auto& meter : qualification.meters)
        if (meter.relative_responsivity && drawable(*meter.relative_responsivity))
            devices.series.push_back(curve_of(meter.id, *meter.relative_responsivity, model::Stroke::solid,
                                              colour_of(devices.series.size())));
    for (const auto& configuration : qualification.configurations)
        if (configuration.relative_responsivity && drawable(*configuration.relative_responsivity))
            devices.series.push_back(curve_of(configuration.id, *configuration.relative_responsivity,
                                              model::Stroke::dashed, colour_of(devices.series.size())));
    const auto n_sources = sources.series.size();
    if (n_sources > 0)
        figure.panels.push_back(std::move(sources));
    figure.panels.push_back(std::move(devices));
    figure.caption = "Each curve relative to its own maximum; dashed grey: V(λ).";
    const auto& all = dossier.evaluation.results;
    const model::Result* worst = nullptr;
    for (const auto i : results_of(dossier, "mismatch_index"))
        if (all[i].value && says_more(all[i], worst))
            worst = &all[i];
    figure.alternative_text =
        worst == nullptr
            ? std::string("Spectra and responsivities over V(λ).")
            : fmt::format("Spectra of {} sources and responsivities over V(λ): the greatest mismatch index "
                          "is {} %, of {}.",
                          n_sources, short_text(*worst->value),
                          text_of(*worst, "meter").empty() ? text_of(*worst, "configuration")
                                                           : text_of(*worst, "meter"));
    return {figure};
}

}  // namespace luxdossier::metrics
