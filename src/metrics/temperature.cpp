#include "metrics/families.hpp"
#include "metrics/figures.hpp"
#include "metrics/matched_levels.hpp"
#include "metrics/meter_factors.hpp"

#include "model/selection.hpp"
#include "statistics/line.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr std::size_t least_temperatures = 3;

/// One level at one temperature.
struct Point {
    const LevelReading* level = nullptr;
    double temperature_k = 0;
};

/// Sensor and chamber of one series: everything but the temperature, the distance and the meter's own.
std::string series_of(const Bench& bench, const LevelReading& level)
{
    auto conditions = bench.conditions_of(level.run);
    for (const auto* name : {"temperature", "distance", "meter_temperature"})
        conditions.erase(name);
    if (level.level_lx)
        conditions["level"] = model::ConditionQuantity{*level.level_lx, "lx"};
    return model::result_id("", bench.run(level.run).sample, conditions);
}

/// Temperature of a level: the mean of what was logged beside its readings, else the run's condition.
std::optional<double> temperature_of(const Bench& bench, const LevelReading& level)
{
    const auto& run = bench.run(level.run);
    const auto stated = model::condition_number(run.conditions, "temperature");
    if (!stated)
        return std::nullopt;
    const auto* logged = run.table ? run.table->number("temperature") : nullptr;
    const auto* levels = run.table ? run.table->number("level") : nullptr;
    double sum = 0;
    std::size_t n = 0;
    for (const auto row : run.rows) {
        const bool other = levels != nullptr && level.level_lx && levels->values.at(row) != *level.level_lx;
        if (logged == nullptr || other || std::isnan(logged->values.at(row)))
            continue;
        sum += logged->values[row];
        ++n;
    }
    return n > 0 ? std::optional(sum / static_cast<double>(n)) : stated;
}

/// The thermometer's error at one temperature, where the run names one that states it.
Expression temperature_input(Bench& bench, const Point& point, Trail& trail)
{
    const auto& run = bench.run(point.level->run);
    const auto value = bench.constant(point.temperature_k);
    const auto* thermometer = bench.qualification().equipment_of(run.thermometer);
    if (thermometer == nullptr || !thermometer->temperature_correction) {
        leave_out(bench, trail, run.thermometer.empty() ? "run " + run.id : "equipment " + run.thermometer,
                  run.thermometer.empty() ? "thermometer" : "temperature_correction",
                  "the uncertainty of the temperature is left out of the temperature coefficients");
        return value;
    }
    return value + bench.stated(bench.run_identity(point.level->run) + "/temperature",
                                fmt::format("correction of {} in run {}", thermometer->id, run.id), "dT",
                                *thermometer->temperature_correction);
}

struct Series {
    std::vector<Point> points;
    Trail trail;
    std::vector<Expression> temperature, response;
};

/// Responses and temperatures of all points; false where one of them is missing.
bool gather(Bench& bench, Series& series)
{
    bool whole = true;
    for (const auto& point : series.points) {
        const auto response = response_of(bench, *point.level);
        series.trail.add(response.trail);
        if (!response.ratio) {
            whole = false;
            continue;
        }
        series.temperature.push_back(temperature_input(bench, point, series.trail));
        series.response.push_back(*response.ratio);
    }
    return whole;
}

void evaluate_series(Bench& bench, Series series)
{
    std::ranges::stable_sort(series.points, {}, &Point::temperature_k);
    auto result = level_result(bench, *series.points.front().level, "temperature_coefficient", "%/K");
    for (const auto* name : {"temperature", "distance", "meter_temperature"})
        result.conditions.erase(name);
    result.illuminance_lx.reset();
    const auto undecided = [&](const std::string& reason) {
        bench.add_undecided(result, series.trail.decided() ? reason : "", series.trail);
    };
    std::set<double> different;
    for (const auto& point : series.points)
        different.insert(point.temperature_k);
    if (!gather(bench, series))
        return undecided("a level is not decided");
    if (different.size() < least_temperatures)
        return undecided(
            fmt::format("{} temperatures, a coefficient needs {}", different.size(), least_temperatures));
    const auto reference_k = bench.qualification().reference_temperature_k;
    if (!reference_k)
        return undecided("the reference_temperature is not stated");
    std::vector<Expression> arguments;
    for (const auto& temperature : series.temperature)
        arguments.push_back(temperature - *reference_k);
    arguments.insert(arguments.end(), series.response.begin(), series.response.end());
    const auto line = bench.builder().estimate(
        statistics::weighted_line_estimator(std::vector<double>(series.response.size(), 1.0)), arguments);
    const auto at_reference = line[0].named("q_0");
    const auto slope = line[1].named("q_T");
    bench.add(std::move(result), {(slope / at_reference * 100.0).named("alpha_T"), series.trail});
}

void evaluate_family(Bench& bench)
{
    std::vector<std::string> order;
    std::map<std::string, Series> all;
    for (const auto run : bench.runs_of(model::RunKind::comparison))
        for (const auto& level : levels_of(bench, run)) {
            const auto temperature_k = temperature_of(bench, level);
            if (!temperature_k)
                continue;
            const auto key = series_of(bench, level);
            if (!all.contains(key))
                order.push_back(key);
            all[key].points.push_back({&level, *temperature_k});
        }
    for (const auto& key : order)
        if (all[key].points.size() > 1)
            evaluate_series(bench, std::move(all[key]));
}

}  // namespace

Family temperature_family()
{
    Family family;
    family.info.id = "temperature";
    family.info.title = "Temperature";
    family.info.question = "How does the reading change with the temperature of the product?";
    family.info.method =
        "At each temperature the response D/E is taken with the illuminance monitored at the same time. A "
        "straight line of the response over the temperature, all points of equal weight, gives the "
        "coefficient, relative to the response of the line at the reference temperature. Its uncertainty "
        "comes from the budgets of the points, not from their scatter about the line.";
    family.info.formulas = {"q = D/E", "alpha_T = q_T/q_0 x 100 %"};
    family.info.metrics = {
        {"temperature_coefficient",
         "Temperature coefficient",
         "%/K",
         "alpha_T",
         {"configuration", "source", "level"},
         true,
         "relative change of the response with temperature, at the reference temperature"}};
    family.evaluate = evaluate_family;
    family.figures = temperature_figures;
    return family;
}

}  // namespace luxdossier::metrics
