#include "metrics/bench.hpp"
#include "metrics/families.hpp"
#include "metrics/stated_models.hpp"

#include <algorithm>
#include <thread>

namespace luxdossier::metrics {

std::span<const Family> families()
{
    // In the order in which they are evaluated and reported; the warm-up family before those that use S.
    static const std::vector<Family> all = {
        dark_family(),          warm_up_family(),       position_factor_family(), field_uniformity_family(),
        illuminance_family(),   reading_error_family(), linearity_family(),       source_variation_family(),
        angular_family(),       window_family(),        low_light_family(),       temperature_family(),
        near_infrared_family(), ripple_family(),        samples_family(),         spectra_family(),
        correction_family()};
    return all;
}

model::MetricCatalogue catalogue()
{
    model::MetricCatalogue entries;
    for (const auto& family : families())
        for (const auto& metric : family.info.metrics)
            entries.push_back({metric.id, metric.unit, metric.conditions, metric.has_sample});
    return entries;
}

model::MetricCatalogue catalogue(const model::Qualification& qualification)
{
    auto entries = catalogue();
    for (const auto& model : qualification.models)
        entries.push_back({model.id, model.unit, {}, false});
    return entries;
}

model::Evaluation evaluate(const model::Qualification& qualification)
{
    Bench bench(qualification);
    for (const auto& family : families())
        family.evaluate(bench);
    evaluate_stated_models(bench);
    return std::move(bench).finish(std::clamp(std::thread::hardware_concurrency(), 1U, 16U));
}

std::vector<model::Figure> figures(const model::Dossier& dossier)
{
    std::vector<model::Figure> all;
    for (const auto& family : families()) {
        if (!family.figures)
            continue;
        auto drawn = family.figures(dossier);
        std::ranges::move(drawn, std::back_inserter(all));
    }
    return all;
}

}  // namespace luxdossier::metrics
