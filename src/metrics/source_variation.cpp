#include "metrics/cancellation.hpp"
#include "metrics/families.hpp"
#include "metrics/figures.hpp"
#include "metrics/matched_levels.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr const char* no_match = "no readings under source {} within 5 % of this illuminance, and none to "
                                 "both sides of it to interpolate between";

/// Sources of the header under which comparisons were read, in the header's order.
std::vector<std::string> compared_sources(const Bench& bench)
{
    std::vector<std::string> found;
    for (const auto& source : bench.qualification().sources)
        if (std::ranges::any_of(bench.runs_of(model::RunKind::comparison),
                                [&](auto run) { return bench.run(run).source == source.id; }))
            found.push_back(source.id);
    return found;
}

/// All levels read under one source, run by run.
std::vector<const LevelReading*> levels_under(Bench& bench, const std::string& source)
{
    std::vector<const LevelReading*> found;
    for (const auto run : bench.runs_of(model::RunKind::comparison))
        if (bench.run(run).source == source)
            for (const auto& level : levels_of(bench, run))
                found.push_back(&level);
    return found;
}

/// Adds a result of two responses, or says why there is none.
void add_pair(Bench& bench, model::Result result, const Response& one, const Response& other,
              const Expression& value)
{
    auto trail = one.trail;
    trail.add(other.trail);
    bench.add(std::move(result), {value, trail});
}

bool add_missing(Bench& bench, const model::Result& result, const Response& one,
                 const std::optional<Response>& other, const std::string& other_source)
{
    if (one.ratio && other && other->ratio)
        return false;
    auto trail = one.trail;
    if (other)
        trail.add(other->trail);
    bench.add_undecided(result, trail.decided() ? fmt::format(fmt::runtime(no_match), other_source) : "",
                        trail);
    return true;
}

void evaluate_variation(Bench& bench, const std::vector<std::string>& sources, Cancellation& cancelled)
{
    const auto& reference = bench.qualification().reference_source;
    if (reference.empty() || std::ranges::find(sources, reference) == sources.end())
        return;
    for (const auto& source : sources) {
        if (source == reference)
            continue;
        for (const auto* level : levels_under(bench, source)) {
            const auto one = response_of(bench, *level);
            const auto other = response_under(bench, *level, reference);
            auto result = level_result(bench, *level, "source_variation", "%");
            if (add_missing(bench, result, one, other, reference))
                continue;
            const auto variation = ((*one.ratio / *other->ratio - 1.0) * 100.0).named("v");
            cancelled.note(*one.ratio * 100.0, variation);
            add_pair(bench, std::move(result), one, *other, variation);
        }
    }
}

/// e_i - e_j at a level of either of the two: `level` belongs to `of`.
void evaluate_difference(Bench& bench, const LevelReading& level, const std::string& of,
                         const std::string& first, const std::string& second)
{
    const auto& opposite = of == first ? second : first;
    const auto here = response_of(bench, level);
    const auto there = response_under(bench, level, opposite);
    if (!there)
        return;  // a level that only one of the two has tells nothing of the difference
    auto result = level_result(bench, level, "source_difference", "%");
    result.conditions["source"] = first;
    result.conditions["other_source"] = second;
    if (add_missing(bench, result, here, there, opposite))
        return;
    const auto& one = of == first ? *here.ratio : *there->ratio;
    const auto& other = of == first ? *there->ratio : *here.ratio;
    add_pair(bench, std::move(result), here, *there, ((one - other) * 100.0).named("Delta_e"));
}

/// Each pair once, in the header's order: the levels of the first, then those that only the second has.
void evaluate_differences(Bench& bench, const std::vector<std::string>& sources)
{
    for (std::size_t i = 0; i < sources.size(); ++i)
        for (std::size_t j = i + 1; j < sources.size(); ++j) {
            const auto levels = levels_under(bench, sources[i]);
            for (const auto* level : levels)
                evaluate_difference(bench, *level, sources[i], sources[i], sources[j]);
            for (const auto* level : levels_under(bench, sources[j])) {
                const auto conditions = shared_conditions(bench, level->run, "source");
                const bool known = std::ranges::any_of(levels, [&](const LevelReading* other) {
                    return other->level_lx == level->level_lx &&
                           bench.run(other->run).sample == bench.run(level->run).sample &&
                           shared_conditions(bench, other->run, "source") == conditions;
                });
                if (!known)
                    evaluate_difference(bench, *level, sources[j], sources[i], sources[j]);
            }
        }
}

/// Greatest less least reading error over all sources, at the levels of the first one.
void evaluate_spread(Bench& bench, const LevelReading& level, const std::vector<std::string>& sources)
{
    auto result = level_result(bench, level, "source_spread", "%");
    result.conditions.erase("source");
    const auto one = response_of(bench, level);
    if (!one.ratio)
        return;
    auto trail = one.trail;
    auto greatest = *one.ratio, least = *one.ratio;
    std::size_t found = 1;
    std::string lacking;
    for (std::size_t i = 1; i < sources.size(); ++i) {
        const auto other = response_under(bench, level, sources[i]);
        if (other)
            trail.add(other->trail);
        if (!other || !other->ratio) {
            lacking = sources[i];
            continue;
        }
        ++found;
        greatest = maximum(greatest, *other->ratio);
        least = minimum(least, *other->ratio);
    }
    if (found < 2)
        return;
    if (!lacking.empty()) {
        bench.add_undecided(std::move(result),
                            trail.decided() ? fmt::format(fmt::runtime(no_match), lacking) : "", trail);
        return;
    }
    bench.add(std::move(result), {((greatest - least) * 100.0).named("Delta_max"), trail});
}

void evaluate_family(Bench& bench)
{
    const auto sources = compared_sources(bench);
    if (sources.size() < 2)
        return;
    Cancellation cancelled;
    evaluate_variation(bench, sources, cancelled);
    evaluate_differences(bench, sources);
    if (sources.size() > 2)
        for (const auto* level : levels_under(bench, sources.front()))
            evaluate_spread(bench, *level, sources);
    if (const auto words = cancelled.words("%"); !words.empty())
        bench.state("source-variation",
                    "What both sources share cancels in the ratio. Contributions to the reading error of one "
                    "source alone, and to its variation: " +
                        words + ". Spectral inputs belong to one source each and stay.");
}

}  // namespace

Family source_variation_family()
{
    Family family;
    family.info.id = "source-variation";
    family.info.title = "Source variation";
    family.info.question = "By how much does the reading depend on the kind of light?";
    family.info.method =
        "Under every source the response D/E is compared with that under the reference source, and the "
        "reading errors of all pairs of sources with one another, at illuminances that agree within 5 %; "
        "else the response under the other source is interpolated over the logarithm of the illuminance. "
        "The spread, greatest less least error, can only be positive and overstates small differences: a "
        "limit on the spread is a limit on every pair.";
    family.info.formulas = {"v = ((D_b/E_b)/(D_a/E_a) - 1) x 100 %", "Delta_e = e_i - e_j",
                            "Delta_max = max(e) - min(e)"};
    const std::vector<std::string> at_level{"configuration", "source", "level"};
    family.info.metrics = {
        {"source_variation", "Source variation", "%", "v", at_level, true,
         "response under the source relative to that under the reference source, less 1"},
        {"source_difference",
         "Difference between sources",
         "%",
         "Delta_e",
         {"configuration", "source", "other_source", "level"},
         true,
         "reading error under one source less that under another, in percentage points"},
        {"source_spread",
         "Spread over sources",
         "%",
         "Delta_max",
         {"configuration", "level"},
         true,
         "greatest less least reading error over all sources, in percentage points; biased upward"}};
    family.evaluate = evaluate_family;
    family.figures = source_variation_figures;
    return family;
}

}  // namespace luxdossier::metrics
