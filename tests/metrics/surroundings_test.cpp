#include "metrics/laboratory.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

/// One level at one temperature, three readings, the meter reading 100 lx.
model::Run at_temperature(double kelvin, double reading)
{
    auto run =
        comparison("t", {100, 100, 100}, {reading, reading * 1.001, reading * 0.999}, {100, 100.05, 99.95});
    run.conditions["temperature"] = model::ConditionQuantity{kelvin, "K"};
    run.thermometer = "thermometer";
    return run;
}

model::Qualification chamber()
{
    auto qualification = laboratory();
    qualification.reference_temperature_k = 293;
    model::Equipment thermometer;
    thermometer.id = "thermometer";
    thermometer.temperature_correction = quantity(0, "K", 0.2);
    qualification.equipment = {thermometer};
    return qualification;
}

/// Ten readings at each irradiance, the product reading dark + response * irradiance.
model::Run near_infrared(const std::vector<double>& irradiances, double response)
{
    std::vector<double> irradiance, sensor, meter;
    for (const double h : irradiances)
        for (int i = 0; i < 10; ++i) {
            irradiance.push_back(h + 0.01 * (i % 2));
            sensor.push_back(20 + response * h + 0.2 * (i % 3));
            meter.push_back(50 + 0.02 * (i % 2));
        }
    auto run = run_of("nir", model::RunKind::near_infrared,
                      {column("irradiance", "W/m2", irradiance), column("sensor", "lx", sensor),
                       column("meter", "lx", meter)});
    run.sample = "S1";
    run.configuration = "bare";
    run.source = "emitter";
    run.meter = "M1";
    run.started = day(2025, 7, 2);
    run.irradiance_meter = "pile";
    run.conditions["wavelength"] = model::ConditionQuantity{940e-9, "m"};
    return run;
}

model::Qualification emitter_bench()
{
    auto qualification = laboratory();
    model::Source emitter;
    emitter.id = "emitter";
    emitter.kind = model::SourceKind::near_infrared;
    qualification.sources.push_back(emitter);
    model::Equipment pile;
    pile.id = "pile";
    pile.correction_factor = quantity(1.25, "1", 0.025);
    pile.resolution_w_m2 = 0.01;
    qualification.equipment = {pile};
    return qualification;
}

}  // namespace

TEST_CASE("a temperature coefficient is the slope of D/E over its value at the reference temperature",
          "[temperature]")
{
    // By hand: 100, 101, 102 % at 273, 293, 313 K: 0.05 %/K of 101 %: 0.0495050 %/K at 293 K.
    auto qualification = chamber();
    qualification.runs = {at_temperature(313, 102), at_temperature(273, 100), at_temperature(293, 101)};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& result = only(evaluation, "temperature_coefficient");
    CHECK(result.id == "temperature_coefficient/configuration=bare/level=100lx/sample=S1/source=led");
    CHECK(agree(*result.value, 100 * 0.0005 / 1.01, 1e-9));
    CHECK(worst_sensitivity(evaluation, result) < 1e-6);
}

TEST_CASE(
    "certificate, ageing and spectral mismatch cancel in a temperature coefficient, the thermometer stays",
    "[temperature]")
{
    auto qualification = chamber();
    qualification.runs = {at_temperature(273, 100), at_temperature(293, 101), at_temperature(313, 102)};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& result = only(evaluation, "temperature_coefficient");
    for (const auto* input : {"/common", "/linearity/level=100lx", "/spectral-mismatch/source=led"})
        CHECK(line_of(evaluation, result, input).contribution < 1e-14);
    CHECK(line_of(evaluation, result, "temperature=273K/temperature").contribution > 0);
    CHECK(result.combined->degrees_of_freedom > 1);  // from the budgets, not from three points about a line
}

TEST_CASE("two temperatures, no reference temperature, and no thermometer have their reasons",
          "[temperature]")
{
    auto qualification = chamber();
    qualification.runs = {at_temperature(273, 100), at_temperature(293, 101)};
    CHECK(only(metrics::evaluate(qualification), "temperature_coefficient").undecided ==
          "2 temperatures, a coefficient needs 3");
    qualification.runs.push_back(at_temperature(313, 102));
    qualification.reference_temperature_k.reset();
    CHECK(only(metrics::evaluate(qualification), "temperature_coefficient").undecided ==
          "the reference_temperature is not stated");
    qualification.reference_temperature_k = 293;
    qualification.equipment.front().temperature_correction.reset();
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "temperature_coefficient").value);
    CHECK(remark_of(evaluation, "left-out") != nullptr);
}

TEST_CASE("a logged temperature counts before the nominal one of the run", "[temperature]")
{
    auto qualification = chamber();
    for (const double kelvin : {273.0, 293.0, 313.0}) {
        auto run = at_temperature(kelvin, 100 + (kelvin - 273) / 20);
        auto table = *run.table;
        table.numbers.push_back(column("temperature", "K", {kelvin + 20, kelvin + 20, kelvin + 20}));
        run.table = std::make_shared<model::Table>(table);
        qualification.runs.push_back(run);
    }
    // By hand: the line is shifted by 20 K, so that 293 K has 100 %.
    CHECK(agree(*only(metrics::evaluate(qualification), "temperature_coefficient").value, 0.05, 1e-9));
}

TEST_CASE("the near-infrared response is the slope of the reading over the corrected irradiance",
          "[near_infrared]")
{
    // By hand: 8 lx per shown W/m2, which are 1.25 W/m2: 6.4 lx/(W/m2).
    auto qualification = emitter_bench();
    qualification.runs = {near_infrared({10, 0, 5}, 8)};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& result = only(evaluation, "near_infrared_response");
    CHECK(agree(*result.value, 6.4, 1e-9));
    CHECK(agree(line_of(evaluation, result, "/correction-factor").contribution, 6.4 * 0.025 / 1.25, 1e-9));
    CHECK(worst_sensitivity(evaluation, result) < 1e-6);
    CHECK(all_of(evaluation, "near_infrared_error").empty());  // no visible light was stated
}

TEST_CASE("the near-infrared error is what the greatest irradiance adds, in % of the visible light",
          "[near_infrared]")
{
    // By hand: 8 lx per shown W/m2 times 10 of them over 50.01 lx (the meter's mean): 159.97 %.
    auto qualification = emitter_bench();
    auto run = near_infrared({0, 10}, 8);
    run.conditions["level"] = model::ConditionQuantity{50, "lx"};
    run.visible_source = "led";
    qualification.runs = {run};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& result = only(evaluation, "near_infrared_error");
    CHECK(agree(*result.value, 100 * 8 * 10.005 / 50.01, 1e-9));
    CHECK(worst_sensitivity(evaluation, result) < 1e-6);
    qualification.runs.front().visible_source.clear();
    CHECK(!only(metrics::evaluate(qualification), "near_infrared_error").undecided.empty());
}

TEST_CASE(
    "without the irradiance meter's certificate, a wavelength or a second irradiance nothing is decided",
    "[near_infrared]")
{
    auto qualification = emitter_bench();
    qualification.runs = {near_infrared({0, 10}, 8)};
    qualification.runs.front().conditions.erase("wavelength");
    CHECK(only(metrics::evaluate(qualification), "near_infrared_response").undecided ==
          "run nir states no wavelength");
    qualification.equipment.front().correction_factor.reset();
    CHECK(only(metrics::evaluate(qualification), "near_infrared_response").undecided ==
          "irradiance not traceable: the correction_factor of pile is not stated");
    qualification.runs.front().irradiance_meter.clear();
    CHECK(only(metrics::evaluate(qualification), "near_infrared_response").undecided ==
          "run nir names no irradiance_meter");
    qualification.runs = {near_infrared({10}, 8)};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "near_infrared_response").undecided ==
          "run nir: a response needs readings at two irradiances or more");
    CHECK(all_finite(evaluation));
}
