#include "metrics/dark_noise.hpp"
#include "metrics/families.hpp"
#include "metrics/zeros.hpp"
#include "model/numerals.hpp"

#include "statistics/summary.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// A level whose mean is at least this many steps shows the noise that a clipped dark reading hides.
constexpr double steps_above_clipping = 5;

std::vector<double> readings(const Bench& bench, std::size_t run, std::span<const std::uint32_t> rows)
{
    std::vector<double> values;
    const auto* column = bench.run(run).table->number("sensor");
    for (const auto row : rows)
        values.push_back(column->values.at(row));
    return values;
}

/// Two or more readings exactly 0 and none below: the product cuts its noise off at zero.
bool clipped(std::span<const double> values)
{
    return std::ranges::count(values, 0.0) >= 2 &&
           std::ranges::none_of(values, [](double value) { return value < 0; });
}

/// s of the lowest level of the same sample and configuration whose mean is at least five steps.
struct LowestLevel {
    double mean_lx = 0;
    double s_lx = 0;
    std::size_t n = 0;
    std::size_t run = 0;
    std::vector<std::uint32_t> rows;
};
std::optional<LowestLevel> lowest_unclipped_level(const Bench& bench, std::size_t dark_run,
                                                  double resolution_lx)
{
    const auto& dark = bench.run(dark_run);
    std::optional<LowestLevel> lowest;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto& subject = bench.run(run);
        if (subject.sample != dark.sample || subject.configuration != dark.configuration)
            continue;
        const auto* level = subject.table->number("level");
        std::map<double, std::vector<std::uint32_t>> rows_of_level;
        for (const auto row : bench.rows_with(run, "sensor")) {
            const double key = level == nullptr ? 0.0 : level->values.at(row);
            if (!std::isnan(key))
                rows_of_level[key].push_back(row);
        }
        for (const auto& [key, rows] : rows_of_level) {
            const auto summary = statistics::summarise(readings(bench, run, rows));
            if (summary.n < 2 || summary.mean < steps_above_clipping * resolution_lx)
                continue;
            if (!lowest || summary.mean < lowest->mean_lx)
                lowest = LowestLevel{summary.mean, summary.standard_deviation, summary.n, run, rows};
        }
    }
    return lowest;
}

std::string run_words(const Bench& bench, std::size_t run)
{
    const auto& sample = bench.run(run).sample;
    return fmt::format("run {}{}", bench.run(run).id, sample.empty() ? std::string{} : ", " + sample);
}

model::Result dark_result(const Bench& bench, std::size_t run, std::string metric)
{
    model::Result result;
    result.metric = std::move(metric);
    result.sample = bench.run(run).sample;
    result.conditions = bench.conditions_of(run);
    result.unit = "lx";
    return result;
}

void evaluate_run(Bench& bench, std::size_t run)
{
    if (bench.rows_with(run, "sensor").empty())
        return;  // the meter's zero alone: no statement about the product
    const auto sensor = *dark_means(bench, run).sensor;
    bench.add(dark_result(bench, run, "dark_reading"), sensor);

    const auto noise = noise_of(bench, run, bench.set(sensor.trail.sets.front()));
    Trail trail;
    trail.runs = sensor.trail.runs;
    trail.sets = sensor.trail.sets;
    auto result = dark_result(bench, run, "dark_noise");
    result.upper_bound = noise.upper_bound;
    if (noise.of_set)
        result.recipe = noise_recipe(bench, sensor.trail.sets.front());
    if (!noise.statement.empty())
        bench.state("dark", noise.statement, noise.subject);
    if (noise.s0_lx)
        bench.add_value(std::move(result), *noise.s0_lx, trail);
    else
        bench.add_undecided(std::move(result), fmt::format("run {}: {}", bench.run(run).id, noise.undecided),
                            trail);
}

void evaluate_family(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::dark))
        evaluate_run(bench, run);
}

}  // namespace

Noise noise_of(const Bench& bench, std::size_t dark_run, const model::ReadingSet& set)
{
    Noise noise;
    const auto values = readings(bench, dark_run, set.rows);
    const auto resolution = set.resolution;
    if (clipped(values)) {
        noise.upper_bound = true;
        const auto lowest = resolution ? lowest_unclipped_level(bench, dark_run, *resolution) : std::nullopt;
        if (!lowest) {
            noise.undecided = "the dark readings are clipped at zero, and no level with a mean of at least 5 "
                              "steps tells the noise";
            return noise;
        }
        noise.s0_lx = lowest->s_lx;
        noise.n = lowest->n;
        noise.level_run = lowest->run;
        noise.level_rows = lowest->rows;
        noise.statement =
            fmt::format("readings clipped at zero; the noise is that of the lowest level, of the "
                        "same sample and configuration, with a mean of at least {} steps: an "
                        "upper bound",
                        steps_above_clipping);
        noise.subject = run_words(bench, dark_run);
    } else if (values.size() < 2) {
        noise.undecided = "a single reading tells no noise";
        return noise;
    } else {
        noise.s0_lx = statistics::summarise(values).standard_deviation;
        noise.n = values.size();
        noise.of_set = true;
    }
    if (resolution && *noise.s0_lx < *resolution / std::sqrt(12.0)) {
        noise.s0_lx = *resolution / std::sqrt(12.0);
        noise.upper_bound = true;
        noise.statement =
            fmt::format("the noise is below what the step of {} lx can show; q/√12 is given as an "
                        "upper bound",
                        model::numeral(*resolution, 4));
        noise.subject = run_words(bench, dark_run);
    } else if (!resolution && *noise.s0_lx == 0) {
        noise.s0_lx.reset();
        noise.undecided = "all readings are equal and the resolution is not known";
    }
    return noise;
}

model::Recipe noise_recipe(const Bench& bench, std::size_t set)
{
    using Of = model::Recipe::Of;
    if (!bench.set(set).resolution)
        return {"{i0}", {{Of::set_deviation, set}}};
    return {"MAX({i0},{i1}/SQRT(12))", {{Of::set_deviation, set}, {Of::set_resolution, set}}};
}

Family dark_family()
{
    Family family;
    family.info.id = "dark";
    family.info.title = "Dark reading";
    family.info.question = "What does the product read without light, and how much does that vary?";
    family.info.method =
        "The product was read with the sensor capped (or the source blocked). The mean is the dark reading, "
        "the "
        "standard deviation of single readings the dark noise; a noise below what the step of the reading "
        "can show, or cut off at zero, is given as an upper bound.";
    family.info.formulas = {"D_0 = mean of the dark readings",
                            "s_0 = standard deviation of one dark reading"};
    family.info.metrics = {{"dark_reading",
                            "Dark reading",
                            "lx",
                            "D_0",
                            {"configuration", "light"},
                            true,
                            "mean reading of the product without light"},
                           {"dark_noise",
                            "Dark noise",
                            "lx",
                            "s_0",
                            {"configuration", "light"},
                            true,
                            "standard deviation of one reading of the product without light"}};
    family.evaluate = evaluate_family;
    return family;
}

}  // namespace luxdossier::metrics
