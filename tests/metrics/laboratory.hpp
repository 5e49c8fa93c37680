#pragma once

#include "metrics/in_memory.hpp"
#include "metrics/metrics.hpp"

#include <algorithm>
#include <limits>

namespace luxdossier::test {

inline constexpr double missing = std::numeric_limits<double>::quiet_NaN();

inline model::TimePoint day(int year, unsigned month, unsigned day_of_month)
{
    const model::Date date{std::chrono::year{year} / std::chrono::month{month} /
                           std::chrono::day{day_of_month}};
    return {static_cast<double>(date.time_since_epoch().count()) * 86400.0};
}

/// A meter of which everything that is needed is stated: factor 1 from 1 lx to 100 klx, U = 1 % (k = 2), 0.8
/// % common.
inline model::Meter stated_meter()
{
    model::Meter meter;
    meter.id = "M1";
    meter.resolution_lx = 0.01;
    model::Certificate certificate;
    certificate.number = "K-1";
    certificate.issued = day(2025, 1, 1).date();
    certificate.coverage_factor = 2;
    certificate.coverage_probability = 0.9545;
    for (const double level : {1.0, 10.0, 100.0, 1000.0, 10000.0, 100000.0})
        certificate.points.push_back({level, 1.0, 0.01, ""});
    certificate.common_relative_expanded_uncertainty = 0.008;
    meter.certificate = certificate;
    meter.annual_drift_per_year = 0.004;
    meter.linearity = 0.002;
    meter.mismatch_index = 0.02;
    return meter;
}

/// One sample, bare and windowed, one LED, a stated meter; no runs yet.
inline model::Qualification laboratory()
{
    model::Qualification qualification;
    qualification.product.resolution = quantity(0.1, "lx", 0);
    qualification.samples = {{"S1", "", "", "", ""}};
    model::Configuration bare, windowed;
    bare.id = "bare";
    bare.applied_factor = 1;
    windowed.id = "windowed";
    windowed.applied_factor = 2;
    qualification.configurations = {bare, windowed};
    qualification.reference_configuration = "bare";
    model::Source led;
    led.id = "led";
    qualification.sources = {led};
    qualification.meters = {stated_meter()};
    qualification.geometry.distance = quantity(2.0, "m", 0);
    qualification.geometry.plane_offset = quantity(0.0, "m", 0.001);
    qualification.geometry.source_diameter = quantity(0.1, "m", 0);
    return qualification;
}

/// A comparison run side by side (rows that hold both readings) or by substitution (rows that hold one).
inline model::Run comparison(std::string id, std::vector<double> level, std::vector<double> sensor,
                             std::vector<double> meter)
{
    auto run = run_of(std::move(id), model::RunKind::comparison,
                      {column("level", "lx", std::move(level)), column("sensor", "lx", std::move(sensor)),
                       column("meter", "lx", std::move(meter))});
    run.sample = "S1";
    run.configuration = "bare";
    run.source = "led";
    run.meter = "M1";
    run.started = day(2025, 7, 2);
    return run;
}

inline model::Run position(std::string id, std::vector<std::string> places, std::vector<double> meter)
{
    auto run = run_of(std::move(id), model::RunKind::position, {column("meter", "lx", std::move(meter))});
    auto table = std::make_shared<model::Table>(*run.table);
    model::TextColumn place{"place", "place", {"reference", "sensor"}, {}};
    for (const auto& name : places)
        place.values.push_back(name == "sensor" ? 1 : 0);
    table->texts = {place};
    run.table = table;
    run.configuration = "bare";
    run.source = "led";
    run.meter = "M1";
    run.started = day(2025, 7, 2);
    return run;
}

inline const model::Result& only(const model::Evaluation& evaluation, std::string_view metric)
{
    const auto found = std::ranges::find(evaluation.results, metric, &model::Result::metric);
    if (found == evaluation.results.end())
        throw std::logic_error("no result of " + std::string(metric));
    return *found;
}

inline std::vector<const model::Result*> all_of(const model::Evaluation& evaluation, std::string_view metric)
{
    std::vector<const model::Result*> found;
    for (const auto& result : evaluation.results)
        if (result.metric == metric)
            found.push_back(&result);
    return found;
}

inline const model::Remark* remark_of(const model::Evaluation& evaluation, std::string_view id)
{
    const auto found = std::ranges::find(evaluation.remarks, id, &model::Remark::id);
    return found == evaluation.remarks.end() ? nullptr : &*found;
}

/// The budget line of the input whose identity ends so; its contribution is 0 where there is none.
inline uncertainty::BudgetLine line_of(const model::Evaluation& evaluation, const model::Result& result,
                                       std::string_view ending)
{
    for (const auto& line : evaluation.budget(result).lines)
        if (evaluation.graph.inputs()[line.input.index].identity.ends_with(ending))
            return line;
    return {};
}

inline bool has_line(const model::Evaluation& evaluation, const model::Result& result,
                     std::string_view ending)
{
    for (const auto& line : evaluation.budget(result).lines)
        if (evaluation.graph.inputs()[line.input.index].identity.ends_with(ending))
            return true;
    return false;
}

/// No number of any result is NaN or infinite (degrees of freedom may be infinite).
inline bool all_finite(const model::Evaluation& evaluation)
{
    return std::ranges::all_of(evaluation.results, [](const model::Result& result) {
        if (result.value && !std::isfinite(*result.value))
            return false;
        if (!result.value && result.undecided.empty())
            return false;
        return !result.combined || (std::isfinite(result.combined->standard_uncertainty) &&
                                    result.combined->degrees_of_freedom >= 1 &&
                                    std::isfinite(result.combined->expanded_uncertainty));
    });
}

}  // namespace luxdossier::test
