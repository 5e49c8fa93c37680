#include "metrics/families.hpp"
#include "metrics/matched_levels.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// The level of the reference configuration that belongs to a level of another one.
const LevelReading* reference_level(Bench& bench, const LevelReading& level)
{
    const auto& subject = bench.run(level.run);
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto& candidate = bench.run(run);
        if (candidate.configuration != bench.qualification().reference_configuration ||
            candidate.sample != subject.sample ||
            shared_conditions(bench, run, "configuration") !=
                shared_conditions(bench, level.run, "configuration"))
            continue;
        const auto& levels = levels_of(bench, run);
        const auto found = std::ranges::find(levels, level.level_lx, &LevelReading::level_lx);
        if (found != levels.end() && found->reading && found->illuminance)
            return &*found;
    }
    return nullptr;
}

void evaluate_level(Bench& bench, const LevelReading& level)
{
    const auto& qualification = bench.qualification();
    auto result = level_result(bench, level, "window_response_ratio", "1");
    if (!level.reading || !level.illuminance) {
        bench.add_undecided(std::move(result), level.trail.undecided.front(), level.trail);
        return;
    }
    auto trail = level.reading->trail;
    trail.add(level.illuminance->trail);
    const auto* reference = reference_level(bench, level);
    if (reference == nullptr) {
        bench.add_undecided(std::move(result),
                            fmt::format("no readings of this level in the reference configuration {}",
                                        qualification.reference_configuration),
                            trail);
        return;
    }
    trail.add(reference->reading->trail);
    trail.add(reference->illuminance->trail);
    const auto* windowed = qualification.configuration(bench.run(level.run).configuration);
    const auto* bare = qualification.configuration(qualification.reference_configuration);
    for (const auto* configuration : {windowed, bare})
        if (configuration == nullptr || !configuration->applied_factor ||
            *configuration->applied_factor == 0) {
            bench.add_undecided(std::move(result),
                                fmt::format("the applied_factor of configuration {} is not stated",
                                            configuration == nullptr ? bench.run(level.run).configuration
                                                                     : configuration->id),
                                trail);
            return;
        }
    const auto response = (level.reading->value / *windowed->applied_factor) / level.illuminance->value;
    const auto reference_response =
        (reference->reading->value / *bare->applied_factor) / reference->illuminance->value;
    bench.add(std::move(result), {(response / reference_response).named("rho_w"), trail});
}

void evaluate_family(Bench& bench)
{
    const auto& reference = bench.qualification().reference_configuration;
    if (reference.empty())
        return;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto& configuration = bench.run(run).configuration;
        if (configuration.empty() || configuration == reference)
            continue;
        for (const auto& level : levels_of(bench, run))
            evaluate_level(bench, level);
    }
}

}  // namespace

Family window_family()
{
    Family family;
    family.info.id = "window";
    family.info.title = "Response behind the window";
    family.info.question = "What share of the response without a window is left in each configuration?";
    family.info.method =
        "At each level the product's reading, without the factor that its firmware applies in the "
        "configuration, "
        "is divided by the illuminance at the sensor, and compared with the same in the reference "
        "configuration. What both share cancels: certificate, ageing, linearity and spectral inputs.";
    family.info.formulas = {"rho_w = (D/f/E) / (D_ref/f_ref/E_ref)"};
    family.info.metrics = {{"window_response_ratio",
                            "Window response ratio",
                            "1",
                            "rho_w",
                            {"configuration", "source", "level"},
                            true,
                            "response in the configuration over that in the reference configuration"}};
    family.evaluate = evaluate_family;
    return family;
}

}  // namespace luxdossier::metrics
