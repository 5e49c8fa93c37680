#include "metrics/families.hpp"
#include "metrics/figures.hpp"
#include "metrics/illuminance.hpp"
#include "metrics/meter_factors.hpp"
#include "metrics/near_infrared_steps.hpp"
#include "metrics/position.hpp"
#include "metrics/readings.hpp"
#include "metrics/zeros.hpp"

#include "model/selection.hpp"
#include "statistics/line.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Irradiance H and reading D at one step of the emitter.
struct Step {
    Expression irradiance, reading;
};

std::string step_identity(std::size_t index)
{
    return fmt::format("step={}", index + 1);
}

/// The factor of the irradiance meter's own certificate; without it nothing is decided.
Expression irradiance_factor(Bench& bench, std::size_t run, Trail& trail)
{
    const auto& named = bench.run(run).irradiance_meter;
    const auto* meter = bench.qualification().equipment_of(named);
    if (meter == nullptr || !meter->correction_factor) {
        trail.undecide(named.empty() ? fmt::format("run {} names no irradiance_meter", bench.run(run).id)
                                     : fmt::format("irradiance not traceable: the correction_factor of {} is "
                                                   "not stated",
                                                   named));
        return bench.constant(1.0);
    }
    return bench
        .stated(fmt::format("equipment:{}/correction-factor", meter->id),
                fmt::format("certificate of {}", meter->id), "C_H", *meter->correction_factor)
        .named("C_H");
}

std::vector<Step> steps_of(Bench& bench, std::size_t run, const std::vector<IrradianceStep>& rows,
                           Trail& trail)
{
    std::vector<SetRequest> sensors, irradiances;
    const auto* meter = bench.qualification().equipment_of(bench.run(run).irradiance_meter);
    for (std::size_t i = 0; i < rows.size(); ++i) {
        sensors.push_back({"sensor", rows[i].rows, step_identity(i), "sensor", "D", std::nullopt, ""});
        irradiances.push_back(
            {"irradiance", rows[i].rows, step_identity(i), "irradiance meter", "H", std::nullopt, ""});
        irradiances.back().unit = "W/m2";
        if (meter != nullptr)
            irradiances.back().resolution = meter->resolution_w_m2;
    }
    const auto pairs = pairs_of(bench, run, sensors, irradiances);
    const auto factor = irradiance_factor(bench, run, trail);
    std::vector<Step> steps;
    for (const auto& pair : pairs) {
        trail.add(pair.first.trail);
        trail.add(pair.second.trail);
        steps.push_back({pair.second.total * factor, pair.first.total});
    }
    return steps;
}

/// Illuminance of the visible light with the emitter off, read by the meter in the step of least irradiance.
std::optional<Traced> visible_illuminance(Bench& bench, std::size_t run, const IrradianceStep& dark)
{
    const auto level = model::condition_number(bench.run(run).conditions, "level");
    const auto* meters = bench.run(run).table->number("meter");
    const bool read = meters != nullptr && std::ranges::any_of(dark.rows, [&](auto row) {
                          return !std::isnan(meters->values.at(row));
                      });
    if (!level || !read)
        return std::nullopt;
    const SetRequest request{"meter", dark.rows, "emitter-off", "meter, emitter off", "R", level, ""};
    IlluminanceAt at{run, fmt::format("level={}lx", *level), fmt::format("at {} lx", *level)};
    at.source = bench.run(run).visible_source;
    auto illuminance = illuminance_at_meter(bench, mean_of(bench, run, request), at);
    if (const auto position = position_run_of(bench, run)) {
        const auto factor = position_factor(bench, *position);
        illuminance.trail.add(factor.trail);
        if (factor.factor)
            illuminance.value = illuminance.value * *factor.factor;
    }
    illuminance.value = illuminance.value.named("E");
    return illuminance;
}

model::Result near_infrared_result(const Bench& bench, std::size_t run, std::string metric, std::string unit)
{
    model::Result result;
    result.metric = std::move(metric);
    result.sample = bench.run(run).sample;
    result.conditions = bench.conditions_of(run);
    if (const auto level = bench.run(run).conditions.find("level"); level != bench.run(run).conditions.end())
        result.conditions["level"] = level->second;
    result.unit = std::move(unit);
    return result;
}

void evaluate_error(Bench& bench, std::size_t run, const std::vector<IrradianceStep>& rows,
                    const Expression& response, const Step& greatest, const Trail& trail)
{
    const auto visible = visible_illuminance(bench, run, rows.front());
    if (!visible)
        return;
    auto result = near_infrared_result(bench, run, "near_infrared_error", "%");
    auto all = trail;
    all.add(visible->trail);
    if (bench.run(run).visible_source.empty())
        all.undecide(fmt::format("run {} names no visible_source", bench.run(run).id));
    bench.state("near-infrared",
                fmt::format("Run {}: the near-infrared error is that of {:.3g} W/m\u00B2 beside {:.4g} lx.",
                            bench.run(run).id, greatest.irradiance.value(), visible->value.value()));
    bench.add(std::move(result),
              {(response * greatest.irradiance / visible->value * 100.0).named("e_NIR"), all});
}

void evaluate_run(Bench& bench, std::size_t run)
{
    const auto rows = irradiance_steps(bench.run(run));
    auto result = near_infrared_result(bench, run, "near_infrared_response", "lx/(W/m2)");
    Trail trail;
    trail.runs.push_back(run);
    if (rows.size() < 2) {
        bench.add_undecided(
            std::move(result),
            fmt::format("run {}: a response needs readings at two irradiances or more", bench.run(run).id),
            trail);
        return;
    }
    const auto steps = steps_of(bench, run, rows, trail);
    if (!model::condition_number(bench.run(run).conditions, "wavelength"))
        trail.undecide(fmt::format("run {} states no wavelength", bench.run(run).id));
    std::vector<Expression> arguments;
    for (const auto& step : steps)
        arguments.push_back(step.irradiance);
    for (const auto& step : steps)
        arguments.push_back(step.reading);
    const auto line = bench.builder().estimate(
        statistics::weighted_line_estimator(std::vector<double>(steps.size(), 1.0)), arguments);
    const auto response = line[1].named("R_NIR");
    bench.add(std::move(result), {response, trail});
    evaluate_error(bench, run, rows, response, steps.back(), trail);
}

void evaluate_family(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::near_infrared))
        evaluate_run(bench, run);
}

}  // namespace

Family near_infrared_family()
{
    Family family;
    family.info.id = "near-infrared";
    family.info.title = "Near-infrared response";
    family.info.question = "What does the product read of light that the eye does not see?";
    family.info.method =
        "Near-infrared light alone was set to several irradiances, read by an irradiance meter with its own "
        "certificate. The slope of the straight line of the product's reading over the irradiance is its "
        "response: dark reading and constant light fall out of it. Where visible light stood beside the "
        "emitter, the part of the reading that the greatest irradiance adds is given in % of the "
        "illuminance measured with the emitter off.";
    family.info.formulas = {"D = D_0 + R_NIR * H", "e_NIR = R_NIR * H/E x 100 %"};
    const std::vector<std::string> conditions{"configuration", "source", "wavelength"};
    family.info.metrics = {{"near_infrared_response", "Near-infrared response", "lx/(W/m2)", "R_NIR",
                            conditions, true, "reading that 1 W/m2 of near-infrared light adds"},
                           {"near_infrared_error", "Near-infrared error", "%", "e_NIR", conditions, true,
                            "reading that the greatest irradiance adds, in % of the visible illuminance"}};
    family.evaluate = evaluate_family;
    family.figures = near_infrared_figures;
    return family;
}

}  // namespace luxdossier::metrics
