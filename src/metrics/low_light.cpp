#include "metrics/dark_noise.hpp"
#include "metrics/families.hpp"
#include "metrics/figures.hpp"
#include "metrics/levels.hpp"
#include "metrics/zeros.hpp"

#include "model/selection.hpp"
#include "statistics/detection.hpp"
#include "statistics/summary.hpp"
#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <set>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double error_of_either_kind = 0.05;
/// The sensitivity is taken at the lowest level whose reading is at least this many times the noise.
constexpr double readings_above_noise = 10;

/// The capped dark run of a sample and configuration that belongs to a comparison run.
std::optional<std::size_t> capped_run(const Bench& bench, std::size_t run)
{
    const auto named = dark_run_of(bench, run);
    const auto& subject = bench.run(run);
    // The noise of another unit, or in another configuration, is not that of this one.
    const auto alike = [](const std::string& a, const std::string& b) { return a.empty() || a == b; };
    if (named && light_of(bench, *named) != "blocked" && alike(bench.run(*named).sample, subject.sample) &&
        alike(bench.run(*named).configuration, subject.configuration) &&
        !bench.rows_with(*named, "sensor").empty())
        return named;
    for (const auto dark : bench.runs_of(model::RunKind::dark))
        if (bench.run(dark).sample == subject.sample &&
            bench.run(dark).configuration == subject.configuration && light_of(bench, dark) == "capped" &&
            !bench.rows_with(dark, "sensor").empty())
            return dark;
    return std::nullopt;
}

/// The lowest level of one sample, configuration and source that stands clear of the noise.
const LevelReading* sensitivity_level(Bench& bench, std::size_t run, double s0_lx)
{
    const auto& subject = bench.run(run);
    const LevelReading* lowest = nullptr;
    for (const auto other : bench.runs_of(model::RunKind::comparison)) {
        const auto& candidate = bench.run(other);
        if (candidate.sample != subject.sample || candidate.configuration != subject.configuration ||
            candidate.source != subject.source)
            continue;
        for (const auto& level : levels_of(bench, other)) {
            if (!level.reading || !level.illuminance || !(level.illuminance->value.value() > 0) ||
                !(level.reading->value.value() >= readings_above_noise * s0_lx))
                continue;
            if (lowest == nullptr || level.illuminance->value.value() < lowest->illuminance->value.value())
                lowest = &level;
        }
    }
    return lowest;
}

model::Result low_light_result(const Bench& bench, std::size_t run, std::string metric)
{
    model::Result result;
    result.metric = std::move(metric);
    result.sample = bench.run(run).sample;
    if (!bench.run(run).configuration.empty())
        result.conditions["configuration"] = bench.run(run).configuration;
    if (!bench.run(run).source.empty())
        result.conditions["source"] = bench.run(run).source;
    result.unit = "lx";
    return result;
}

/// The noise as a formula: of the dark set, or of the set of the level that tells it where dark readings are
/// clipped.
std::optional<model::Recipe> noise_recipe(Bench& bench, const Noise& noise, std::size_t dark_set)
{
    if (noise.of_set)
        return noise_recipe(bench, dark_set);
    if (!noise.level_run)
        return std::nullopt;
    for (const auto& level : levels_of(bench, *noise.level_run)) {
        if (!level.reading)
            continue;
        for (const auto index : level.reading->trail.sets) {
            const auto& set = bench.set(index);
            if (set.run == *noise.level_run && set.column == "sensor" && set.rows == noise.level_rows)
                return noise_recipe(bench, index);
        }
    }
    return std::nullopt;
}

/// Noise over sensitivity, with what else the three figures are made of, for the workbook.
model::Recipe detection_recipe(model::Recipe recipe, const LevelReading& level)
{
    using Of = model::Recipe::Of;
    const auto next = recipe.operands.size();
    recipe.operands.push_back({Of::node, level.reading->value.node().index});
    recipe.operands.push_back({Of::node, level.illuminance->value.node().index});
    recipe.formula += fmt::format("/({{i{}}}/{{i{}}})", next, next + 1);
    return recipe;
}

/// That times a factor and sqrt(1/m + 1/N).
model::Recipe spread_recipe(model::Recipe recipe, std::size_t set, double averaged, double factor,
                            std::string name)
{
    using Of = model::Recipe::Of;
    const auto next = recipe.operands.size();
    recipe.operands.push_back(
        {Of::factor, 0, factor, std::move(name), "quantile that spreadsheets do not offer to all digits"});
    recipe.operands.push_back({Of::set_size, set});
    recipe.formula += fmt::format("*{{i{}}}*SQRT(1/{}+1/{{i{}}})", next, averaged, next + 1);
    return recipe;
}

constexpr std::array detection_metrics{"noise_equivalent_illuminance", "critical_value", "detection_limit"};

void evaluate_detection(Bench& bench, std::size_t run)
{
    const auto dark = capped_run(bench, run);
    Trail trail;
    trail.runs.push_back(run);
    const auto undecided = [&](const std::string& reason) {
        for (const auto* metric : detection_metrics)
            bench.add_undecided(low_light_result(bench, run, metric), reason, trail);
    };
    if (!dark)
        return;  // without dark readings of the product there is nothing to say
    trail.runs.push_back(*dark);
    const auto sensor = *dark_means(bench, *dark).sensor;
    trail.sets = sensor.trail.sets;
    const auto noise = noise_of(bench, *dark, bench.set(sensor.trail.sets.front()));
    if (!noise.s0_lx)
        return undecided(fmt::format("run {}: {}", bench.run(*dark).id, noise.undecided));
    const auto* level = sensitivity_level(bench, run, *noise.s0_lx);
    if (level == nullptr)
        return undecided("no level whose reading is at least ten times the dark noise tells the sensitivity");
    const double sensitivity = level->reading->value.value() / level->illuminance->value.value();
    const double averaged =
        std::max(1.0, model::condition_number(bench.run(*dark).conditions, "readings").value_or(1.0));
    const auto n = static_cast<double>(bench.set(sensor.trail.sets.front()).n);
    const double freedom = static_cast<double>(noise.n) - 1;
    const double spread = *noise.s0_lx * std::sqrt(1 / averaged + 1 / n) / sensitivity;
    const double quantile = uncertainty::t_quantile(1 - error_of_either_kind, freedom);
    const double non_centrality =
        statistics::detection_non_centrality(freedom, error_of_either_kind, error_of_either_kind);
    const std::array values{*noise.s0_lx / sensitivity, quantile * spread, non_centrality * spread};
    std::array<std::optional<model::Recipe>, values.size()> recipes;
    const auto set = sensor.trail.sets.front();
    if (const auto s0 = noise_recipe(bench, noise, set)) {
        const auto of = [&](double factor, const char* what) {
            return spread_recipe(detection_recipe(*s0, *level), set, averaged, factor,
                                 fmt::format("{}, {} degrees of freedom", what, freedom));
        };
        recipes = {detection_recipe(*s0, *level), of(quantile, "Student's t at 95 %, one-sided"),
                   of(non_centrality, "non-centrality of a detection limit, 5 % of either error")};
    }
    for (std::size_t i = 0; i < values.size(); ++i) {
        auto result = low_light_result(bench, run, detection_metrics.at(i));
        result.upper_bound = noise.upper_bound;
        result.recipe = recipes.at(i);
        bench.add_value(std::move(result), values.at(i), trail);
    }
}

/// Mean reading over the standard deviation of one reading at each level, not above what the step shows.
void evaluate_signal_to_noise(Bench& bench, const LevelReading& level)
{
    if (!level.reading)
        return;
    const auto& sets = level.reading->trail.sets;
    const auto sensor =
        std::ranges::find_if(sets, [&](std::size_t i) { return bench.set(i).column == "sensor"; });
    if (sensor == sets.end())
        return;
    const auto& set = bench.set(*sensor);
    const auto* column = bench.run(set.run).table->number("sensor");
    std::vector<double> values;
    for (const auto row : set.rows)
        values.push_back(column->values.at(row));
    const auto summary = statistics::summarise(values);
    auto result = level_result(bench, level, "signal_to_noise", "1");
    Trail trail;
    trail.runs = level.reading->trail.runs;
    trail.sets.push_back(*sensor);
    if (summary.n < 2) {
        bench.add_undecided(std::move(result), "a single reading tells no noise", trail);
        return;
    }
    const double least = set.resolution ? *set.resolution / std::sqrt(12.0) : 0.0;
    const double s = std::max(summary.standard_deviation, least);
    const auto noise = noise_recipe(bench, *sensor);
    result.recipe =
        model::Recipe{fmt::format("{{i{}}}/{}", noise.operands.size(), noise.formula), noise.operands};
    result.recipe->operands.push_back({model::Recipe::Of::set_mean, *sensor});
    if (s > 0)
        bench.add_value(std::move(result), summary.mean / s, trail);
    else
        bench.add_undecided(std::move(result), "all readings are equal and the resolution is not known",
                            trail);
}

/// The noise of dark readings that are clipped is that of a level, whose readings are a set by now.
void complete_dark_noise(Bench& bench)
{
    for (std::size_t i = 0; i < bench.results().size(); ++i) {
        const auto& result = bench.results()[i];
        if (result.metric != "dark_noise" || !result.value || result.recipe)
            continue;
        const auto set = result.sets.front();
        const auto noise = noise_of(bench, bench.set(set).run, bench.set(set));
        if (auto recipe = noise_recipe(bench, noise, set))
            bench.set_recipe(i, std::move(*recipe));
    }
}

void evaluate_family(Bench& bench)
{
    std::set<std::string> told;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto& subject = bench.run(run);
        if (told.insert(subject.sample + "/" + subject.configuration + "/" + subject.source).second)
            evaluate_detection(bench, run);
        for (const auto& level : levels_of(bench, run))
            evaluate_signal_to_noise(bench, level);
    }
    complete_dark_noise(bench);
    if (const auto& time = bench.qualification().product.integration_time)
        bench.state("low-light",
                    fmt::format("The figures hold for the integration time of {:g} s.", time->value));
}

}  // namespace

Family low_light_family()
{
    Family family;
    family.info.id = "low-light";
    family.info.title = "Low light";
    family.info.question = "What is the least light that the product can tell from darkness?";
    family.info.method =
        "The dark noise over the sensitivity is the noise-equivalent illuminance. Above the critical value a "
        "reading differs from darkness with an error of 5 %; an illuminance at the detection limit is missed "
        "with an error of 5 %. The signal-to-noise ratio is the mean reading over the standard deviation of "
        "one reading, which is never taken below the step of the reading over the root of 12.";
    family.info.formulas = {"E_n = s_0/b", "x_C = t(0.95, nu) s_0 sqrt(1/m + 1/N)/b",
                            "x_D = delta(nu) s_0 sqrt(1/m + 1/N)/b", "SNR = D/s"};
    const std::vector<std::string> conditions{"configuration", "source"};
    family.info.metrics = {{"noise_equivalent_illuminance", "Noise-equivalent illuminance", "lx", "E_n",
                            conditions, true, "illuminance whose reading equals the dark noise"},
                           {"critical_value", "Critical value", "lx", "x_C", conditions, true,
                            "illuminance above which a reading differs from darkness"},
                           {"detection_limit", "Detection limit", "lx", "x_D", conditions, true,
                            "least illuminance that is told from darkness with 95 % probability"},
                           {"signal_to_noise",
                            "Signal-to-noise ratio",
                            "1",
                            "SNR",
                            {"configuration", "source", "level"},
                            true,
                            "mean reading over the standard deviation of one reading"}};
    family.evaluate = evaluate_family;
    family.figures = low_light_figures;
    return family;
}

}  // namespace luxdossier::metrics
