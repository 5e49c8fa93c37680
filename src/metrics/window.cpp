#include "metrics/families.hpp"
#include "metrics/matched_levels.hpp"

#include <algorithm>
#include <array>
#include <utility>

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

/// A metric whose change by the window is a result of its own.
struct Changed {
    const char *of, *metric, *symbol;
};
constexpr std::array changed_metrics{
    Changed{"source_variation", "source_variation_change", "Delta_v"},
    Changed{"field_of_view", "field_of_view_change", "Delta_FOV"},
};

/// Conditions that tell results of one configuration apart; a distance may differ with the configuration.
model::Conditions without_place(model::Conditions conditions)
{
    for (const auto* name : {"distance", "meter_temperature", "run"})
        conditions.erase(name);
    return conditions;
}

/// The result of the reference configuration that belongs to one of another; none where several could.
std::optional<std::size_t> reference_result(const Bench& bench, const model::Result& result)
{
    auto wanted = without_place(result.conditions);
    wanted["configuration"] = bench.qualification().reference_configuration;
    std::optional<std::size_t> found;
    for (std::size_t i = 0; i < bench.results().size(); ++i) {
        const auto& candidate = bench.results()[i];
        if (candidate.metric != result.metric || candidate.sample != result.sample ||
            without_place(candidate.conditions) != wanted)
            continue;
        if (found)
            return std::nullopt;
        found = i;
    }
    return found;
}

void evaluate_change(Bench& bench, const Changed& changed, const model::Result& windowed,
                     const model::Result& bare)
{
    model::Result result;
    result.metric = changed.metric;
    result.sample = windowed.sample;
    result.conditions = windowed.conditions;
    result.unit = windowed.unit;
    result.illuminance_lx = windowed.illuminance_lx;
    Trail trail;
    for (const auto* part : {&windowed, &bare})
        trail.add({part->runs, part->sets, {}, {}, false});
    const auto& reason = windowed.undecided.empty() ? bare.undecided : windowed.undecided;
    if (!reason.empty() || !windowed.node || !bare.node) {
        bench.add_undecided(std::move(result), reason, trail);
        return;
    }
    const Expression with(bench.builder(), *windowed.node), without(bench.builder(), *bare.node);
    bench.add(std::move(result), {(with - without).named(changed.symbol), trail});
}

void evaluate_changes(Bench& bench, const Changed& changed)
{
    std::vector<std::pair<std::size_t, std::size_t>> pairs;
    for (std::size_t i = 0; i < bench.results().size(); ++i) {
        const auto& result = bench.results()[i];
        const auto own = result.conditions.find("configuration");
        if (result.metric != changed.of || own == result.conditions.end() ||
            own->second == model::ConditionValue(bench.qualification().reference_configuration))
            continue;
        if (const auto reference = reference_result(bench, result))
            pairs.emplace_back(i, *reference);
    }
    for (const auto& [windowed, bare] : pairs) {
        const auto with = bench.results()[windowed], without = bench.results()[bare];  // adding moves them
        evaluate_change(bench, changed, with, without);
    }
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
    for (const auto& changed : changed_metrics)
        evaluate_changes(bench, changed);
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
        "configuration. What both share cancels: certificate, ageing, linearity and spectral inputs. What "
        "the "
        "window changes in the source variation and in the field of view is their difference between the two "
        "configurations.";
    family.info.formulas = {"rho_w = (D/f/E) / (D_ref/f_ref/E_ref)", "Delta_v = v - v_ref",
                            "Delta_FOV = FOV - FOV_ref"};
    family.info.metrics = {
        {"window_response_ratio",
         "Window response ratio",
         "1",
         "rho_w",
         {"configuration", "source", "level"},
         true,
         "response in the configuration over that in the reference configuration"},
        {"source_variation_change",
         "Change of source variation",
         "%",
         "Delta_v",
         {"configuration", "source", "level"},
         true,
         "source variation less that in the reference configuration, in percentage points"},
        {"field_of_view_change",
         "Change of field of view",
         "degree",
         "Delta_FOV",
         {"configuration", "source", "plane"},
         true,
         "field of view less that in the reference configuration"}};
    family.evaluate = evaluate_family;
    return family;
}

}  // namespace luxdossier::metrics
