#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "model/selection.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

/// K changes with distance (cos^4, inverse square): 1 % in distance is what it may be off by.
bool is_same_distance(std::optional<double> a_m, std::optional<double> b_m)
{
    return !a_m || !b_m || std::abs(*a_m - *b_m) <= 0.01 * *b_m * (1.0 + 1e-9);
}

/// What keeps the best of a run's position runs from telling K for it; empty where it does.
struct PositionFit {
    bool any = false;
    bool other_configuration = false;
    std::string fault;
};

PositionFit fit_of(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    PositionFit best;
    int best_score = -1;
    for (const auto candidate : bench.runs_of(model::RunKind::position)) {
        const auto& position = bench.run(candidate);
        if (std::ranges::find(subject.position_runs, position.id) == subject.position_runs.end())
            continue;
        const bool source = compatible(position.source, subject.source);
        const bool distance = is_same_distance(bench.distance_m(run), bench.distance_m(candidate));
        const bool configuration = compatible(position.configuration, subject.configuration);
        const int score = (source ? 4 : 0) + (distance ? 2 : 0) + (configuration ? 1 : 0);
        if (score <= best_score)
            continue;
        best_score = score;
        best.any = true;
        best.other_configuration = !configuration;
        best.fault = !source ? fmt::format("the position run {} has source {}", position.id, position.source)
                     : !distance ? fmt::format("the position run {} was at {} m, this one at {} m",
                                               position.id, model::numeral(*bench.distance_m(candidate), 4),
                                               model::numeral(*bench.distance_m(run), 4))
                                 : std::string{};
    }
    return best;
}

/// Comparison runs that a source's field lights.
std::vector<std::size_t> results_with_source(const Bench& bench, const std::string& source)
{
    std::vector<std::size_t> results;
    for (const auto run : bench.runs_of(model::RunKind::comparison))
        if (bench.run(run).source == source)
            add_results(results, bench.results_of(run));
    return results;
}

}  // namespace

void not_co_located(Bench& bench)
{
    const std::string advice = "measure the position factor for this source and distance, and name its run";
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        if (!bench.run(run).is_side_by_side()) {
            if (const auto& named = bench.run(run).position_runs; !named.empty())
                bench.raise(
                    {"not-co-located",
                     RemarkSeverity::note,
                     bench.run(run).id,
                     fmt::format("{}: read by substitution, so that the position run {} is not used",
                                 bench.words(run), fmt::join(named, ", ")),
                     "meter and product are taken to have stood in one place: the position factor is 1",
                     "name no position run, or state the method as side-by-side",
                     bench.results_of(run),
                     {}});
            continue;
        }
        const auto fit = fit_of(bench, run);
        if (!fit.any || !fit.fault.empty())
            bench.raise({"not-co-located",
                         RemarkSeverity::blocks,
                         bench.run(run).id,
                         fmt::format("{}: meter and product stood side by side, and {}", bench.words(run),
                                     fit.any ? fit.fault : "no position run tells how the places differ"),
                         "the illuminance at the sensor is not known: the results of the run are not decided",
                         advice,
                         bench.results_of(run),
                         {}});
        else if (fit.other_configuration)
            bench.raise({"not-co-located",
                         RemarkSeverity::note,
                         bench.run(run).id,
                         fmt::format("{}: the position factor was measured in another configuration",
                                     bench.words(run)),
                         "the position factor is taken to be the same there",
                         "measure the position factor in each configuration",
                         bench.results_of(run),
                         {}});
    }
}

void uneven_field(Bench& bench)
{
    constexpr double even_percent = 1.0;
    std::set<std::string> mapped;
    for (const auto run : bench.runs_of(model::RunKind::field_map)) {
        mapped.insert(bench.run(run).source);
        for (const auto index : bench.results_of(run, {"field_range"})) {
            const auto& result = bench.evaluation().results[index];
            if (!result.value || !(*result.value > even_percent))
                continue;
            auto touched = results_with_source(bench, bench.run(run).source);
            touched.push_back(index);
            bench.raise({"uneven-field",
                         RemarkSeverity::concern,
                         bench.run(run).id,
                         fmt::format("{}: (max − min)/mean over the aperture is {} %", bench.words(run),
                                     model::numeral(*result.value, 3)),
                         "what the sensor collects depends on where its aperture stands",
                         "diffuse or move the source until the field is even within 1 %",
                         std::move(touched),
                         {}});
        }
    }
    std::set<std::string> told;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto& source = bench.run(run).source;
        if (mapped.contains(source) || !told.insert(source).second)
            continue;
        bench.raise(
            {"uneven-field",
             RemarkSeverity::note,
             {},
             source.empty() ? std::string("no field map") : fmt::format("no field map of source {}", source),
             "how evenly the aperture is lit is not known",
             "take a field map over the aperture",
             results_with_source(bench, source),
             {}});
    }
}

void too_near(Bench& bench)
{
    constexpr double sizes = 5.0;
    const auto& geometry = bench.qualification().geometry;
    const double source_m = geometry.source_diameter ? geometry.source_diameter->value : 0.0;
    const double sensor_m = geometry.sensor_diameter ? geometry.sensor_diameter->value : 0.0;
    const double size_m = std::max(source_m, sensor_m);
    std::map<double, std::vector<std::size_t>> touched;
    for (const auto kind : {model::RunKind::comparison, model::RunKind::angular})
        for (const auto run : bench.runs_of(kind))
            if (const auto distance = bench.distance_m(run); distance && *distance < sizes * size_m)
                add_results(touched[*distance], bench.results_of(run));
    for (auto& [distance_m, results] : touched) {
        const double ratio = size_m / 2.0 / distance_m;
        bench.raise(
            {"too-near",
             RemarkSeverity::concern,
             {},
             fmt::format("distance {} m is {} times the {} of {} m", model::numeral(distance_m, 4),
                         model::numeral(distance_m / size_m, 2), source_m >= sensor_m ? "source" : "sensor",
                         model::numeral(size_m, 3)),
             fmt::format("levels computed by the inverse square are off by about {} % (a disc); measured "
                         "ones are not",
                         model::numeral(100.0 * ratio * ratio, 2)),
             "keep at least 5, better 10 sizes of source and sensor apart",
             std::move(results),
             {}});
    }
}

}  // namespace luxdossier::practice
