#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "model/selection.hpp"
#include "practice/dark_runs.hpp"
#include "uncertainty/propagation.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

/// Readings of a column where the emitter was on (irradiance above 0) or off.
std::vector<double> under_irradiance(const Bench& bench, std::size_t run, std::string_view column, bool on)
{
    std::vector<double> values;
    for (const auto row : bench.run(run).rows) {
        const double irradiance = bench.cell(run, "irradiance", row), value = bench.cell(run, column, row);
        if (!std::isnan(irradiance) && !std::isnan(value) && (irradiance > 0.0) == on)
            values.push_back(value);
    }
    return values;
}

double mean_or(const std::vector<double>& values, double otherwise)
{
    if (values.empty())
        return otherwise;
    double sum = 0.0;
    for (const double value : values)
        sum += value;
    return sum / static_cast<double>(values.size());
}

/// What a column moved by when the emitter was on; without rows at 0 the dark run tells where it stood.
std::optional<double> moved_lx(const Bench& bench, std::size_t run, std::string_view column)
{
    const auto on = under_irradiance(bench, run, column, true);
    if (on.empty())
        return std::nullopt;
    double rest = mean_or(under_irradiance(bench, run, column, false), 0.0);
    if (under_irradiance(bench, run, column, false).empty())
        if (const auto dark = named_dark_run(bench, run, column))
            if (const auto mean = mean_of(bench, *dark, column))
                rest = mean->mean;
    return std::abs(mean_or(on, 0.0) - rest);
}

/// Two window ratios that differ by more than 3 u of their difference, as printed; empty where they do not.
std::string difference_between_units(const Bench& bench, std::size_t a, std::size_t b)
{
    const auto& evaluation = bench.evaluation();
    const auto& first = evaluation.results[a];
    const auto& second = evaluation.results[b];
    if (!first.node || !second.node || !first.combined || !second.combined)
        return {};
    const double u_first = first.combined->standard_uncertainty,
                 u_second = second.combined->standard_uncertainty;
    const double variance = u_first * u_first + u_second * u_second -
                            2.0 * uncertainty::covariance(evaluation.graph, *first.node, *second.node);
    const double u = std::sqrt(std::max(variance, 0.0));
    const double difference = std::abs(*first.value - *second.value);
    if (!(difference > 3.0 * u))
        return {};
    return fmt::format("{} has {} and {} {}; 3 u of the difference is {}", first.sample,
                       model::numeral(*first.value, 6), second.sample, model::numeral(*second.value, 6),
                       model::numeral(3.0 * u, 2));
}

}  // namespace

void few_samples(Bench& bench)
{
    constexpr std::size_t enough = 5, enough_for_interval = 10;
    std::set<std::string> samples;
    bool interval = false;
    std::vector<std::size_t> touched;
    for (std::size_t index = 0; index < bench.evaluation().results.size(); ++index) {
        const auto& result = bench.evaluation().results[index];
        if (!result.sample.empty())
            samples.insert(result.sample);
        if (result.metric.starts_with("tolerance_interval")) {
            interval = true;
            touched.push_back(index);
        }
    }
    if (samples.empty() || samples.size() >= (interval ? enough_for_interval : enough))
        return;
    bench.raise(
        {"few-samples",
         RemarkSeverity::note,
         {},
         fmt::format("{} sample{} measured, fewer than {}", samples.size(),
                     samples.size() == 1 ? " was" : "s were",
                     interval ? fmt::format("the {} that a tolerance interval asks for", enough_for_interval)
                              : fmt::format("{}", enough)),
         interval ? "the interval is wide, and says little of the series"
                  : "the results say nothing of units that were not measured",
         fmt::format("measure {} samples or more", interval ? enough_for_interval : enough),
         touched,
         {}});
}

void near_infrared_leak(Bench& bench)
{
    const auto runs = bench.runs_of(model::RunKind::near_infrared);
    for (const auto run : runs) {
        const auto meter = moved_lx(bench, run, "meter"), product = moved_lx(bench, run, "sensor");
        if (!meter || !product || !(*meter > negligible_light * *product))
            continue;
        bench.raise(
            {"near-infrared-leak",
             RemarkSeverity::blocks,
             bench.run(run).id,
             fmt::format("{}: the meter moves by {} lx under near-infrared, {} % of what the product does",
                         bench.words(run), model::numeral(*meter, 2),
                         model::numeral(100.0 * *meter / *product, 2)),
             "the meter is no visible-only reference there: near-infrared results of the run are not decided",
             "read the illuminance with the emitter off, or through a filter that blocks it",
             bench.results_of(run, {"near_infrared_response", "near_infrared_error"}),
             {}});
    }
    if (!runs.empty())
        return;
    std::map<std::string, std::vector<std::size_t>> rich;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto* source = bench.qualification().source(bench.run(run).source);
        if (source != nullptr &&
            (source->kind == model::SourceKind::incandescent || source->kind == model::SourceKind::daylight))
            add_results(rich[source->id], bench.results_of(run));
    }
    for (auto& [source, results] : rich)
        bench.raise(
            {"near-infrared-leak",
             RemarkSeverity::note,
             {},
             fmt::format("source {} is rich in near-infrared, and no run tells what that adds to the reading",
                         source),
             "part of the reading error may be response outside the visible",
             "take a near-infrared run",
             std::move(results),
             {}});
}

void window_differs(Bench& bench)
{
    constexpr double between_sources = 0.02;
    using Key = std::tuple<std::string, std::string, std::string>;  // configuration, source, level
    std::map<Key, std::vector<std::size_t>> units;
    std::map<std::pair<std::string, std::string>, std::map<std::string, std::vector<std::size_t>>> sources;
    for (std::size_t index = 0; index < bench.evaluation().results.size(); ++index) {
        const auto& result = bench.evaluation().results[index];
        if (result.metric != "window_response_ratio" || !result.value)
            continue;
        const auto configuration = model::condition_text(result.conditions, "configuration");
        const auto source = model::condition_text(result.conditions, "source");
        const auto level = model::condition_number(result.conditions, "level");
        units[{configuration, source, level ? fmt::format("{} lx", model::numeral(*level, 9)) : ""}]
            .push_back(index);
        sources[{result.sample, configuration}][source].push_back(index);
    }
    const auto value = [&](std::size_t index) { return *bench.evaluation().results[index].value; };
    const std::string advice = "find out which windows differ, and how they were fitted";
    for (const auto& [key, results] : units) {
        const auto [low, high] = std::ranges::minmax_element(results, {}, value);
        if (low == high)
            continue;
        if (const auto seen = difference_between_units(bench, *low, *high); !seen.empty())
            bench.raise(
                {"window-differs",
                 RemarkSeverity::note,
                 {},
                 fmt::format("{} {} {}: {}", std::get<0>(key), std::get<1>(key), std::get<2>(key), seen),
                 "one factor for all units does not fit",
                 advice,
                 results,
                 {}});
    }
    for (const auto& [key, by_source] : sources) {
        double lowest = std::numeric_limits<double>::infinity(), highest = -lowest;
        std::vector<std::size_t> touched;
        for (const auto& [source, results] : by_source) {
            double sum = 0.0;
            for (const auto index : results)
                sum += value(index);
            lowest = std::min(lowest, sum / static_cast<double>(results.size()));
            highest = std::max(highest, sum / static_cast<double>(results.size()));
            add_results(touched, results);
        }
        if (by_source.size() > 1 && lowest > 0.0 && highest / lowest - 1.0 > between_sources)
            bench.raise({"window-differs",
                         RemarkSeverity::note,
                         {},
                         fmt::format("{} {}: the ratio differs by {} % between sources", key.first,
                                     key.second, model::numeral(100.0 * (highest / lowest - 1.0), 2)),
                         "the window is not neutral: one factor for all sources does not fit",
                         advice,
                         std::move(touched),
                         {}});
    }
}

}  // namespace luxdossier::practice
