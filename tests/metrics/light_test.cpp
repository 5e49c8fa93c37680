#include "metrics/laboratory.hpp"
#include "metrics/ripple.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

/// Ten capped readings of the product whose standard deviation is `s`.
model::Run capped(double s)
{
    std::vector<double> sensor;
    for (int i = 0; i < 10; ++i)
        sensor.push_back(i % 2 == 0 ? i : -i);
    double sum = 0, squares = 0;
    for (const double value : sensor)
        sum += value / 10;
    for (const double value : sensor)
        squares += (value - sum) * (value - sum) / 9;
    for (auto& value : sensor)
        value = 5 * s + (value - sum) * s / std::sqrt(squares);
    auto run = run_of("dark", model::RunKind::dark, {column("sensor", "lx", sensor)});
    run.sample = "S1";
    run.configuration = "bare";
    run.conditions["light"] = std::string("capped");
    return run;
}

model::Run levels(const std::vector<double>& level, double sensitivity)
{
    std::vector<double> nominal, sensor, meter;
    for (const double lx : level)
        for (const double scatter : {0.0, 0.01, -0.01}) {
            nominal.push_back(lx);
            sensor.push_back(lx * sensitivity * (1 + scatter));
            meter.push_back(lx);
        }
    return comparison("r", nominal, sensor, meter);
}

model::Run waveform(double depth)
{
    std::vector<double> time, signal;
    for (int i = 0; i < 1000; ++i) {
        time.push_back(i / 5000.0);
        signal.push_back(2 + 2 * depth * std::sin(2 * std::numbers::pi * 100 * time.back() + 0.3));
    }
    auto run =
        run_of("w", model::RunKind::waveform, {column("time", "s", time), column("signal", "V", signal)});
    run.source = "led";
    return run;
}

}  // namespace

TEST_CASE("the noise-equivalent illuminance, critical value and detection limit follow from s0, t and delta",
          "[low_light]")
{
    // By hand, s0 = 0.2 lx, b = 0.5: 0.4 lx; ISO 11843-2 with nu = 9, N = 10, m = 1: t = 1.8331, delta
    // = 3.57538 (SciPy), sqrt(1 + 1/10).
    auto qualification = laboratory();
    qualification.product.resolution = quantity(0.01, "lx", 0);
    qualification.runs = {capped(0.2), levels({2, 100, 10}, 0.5)};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "noise_equivalent_illuminance").value, 0.4, 1e-9));
    CHECK(agree(*only(evaluation, "critical_value").value, 1.8331129326536335 * 0.4 * std::sqrt(1.1), 1e-9));
    CHECK(agree(*only(evaluation, "detection_limit").value, 3.575384834041879 * 0.4 * std::sqrt(1.1), 1e-8));
    CHECK(!only(evaluation, "detection_limit").upper_bound);
    CHECK(!only(evaluation, "detection_limit").combined);
}

TEST_CASE("noise below the step is an upper bound, and readings averaged in the dark count", "[low_light]")
{
    auto qualification = laboratory();
    qualification.product.resolution = quantity(1.2, "lx", 0);  // q/sqrt(12) = 0.346 lx
    qualification.runs = {capped(0.2), levels({100}, 0.5)};
    qualification.runs[0].conditions["readings"] = model::ConditionQuantity{4, "1"};
    const auto evaluation = metrics::evaluate(qualification);
    const double least = 1.2 / std::sqrt(12.0) / 0.5;
    CHECK(agree(*only(evaluation, "noise_equivalent_illuminance").value, least, 1e-9));
    CHECK(only(evaluation, "critical_value").upper_bound);
    CHECK(agree(*only(evaluation, "critical_value").value, 1.8331129326536335 * least * std::sqrt(0.25 + 0.1),
                1e-9));
}

TEST_CASE("a level below ten times the noise tells no sensitivity", "[low_light]")
{
    auto qualification = laboratory();
    qualification.product.resolution = quantity(0.01, "lx", 0);
    const double reading = GENERATE(1.99, 2.01);
    qualification.runs = {capped(0.2), levels({reading}, 1)};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& result = only(evaluation, "detection_limit");
    CHECK(result.value.has_value() == (reading > 2));
    if (!result.value)
        CHECK(result.undecided ==
              "no level whose reading is at least ten times the dark noise tells the sensitivity");
}

TEST_CASE("signal-to-noise is the mean over s of one reading, s never below q/sqrt(12)", "[low_light]")
{
    // By hand: readings 50, 50.5, 49.5: 50/0.5.
    auto qualification = laboratory();
    qualification.runs = {levels({100}, 0.5)};
    CHECK(agree(*only(metrics::evaluate(qualification), "signal_to_noise").value, 100, 1e-9));
    qualification.product.resolution = quantity(6, "lx", 0);
    CHECK(agree(*only(metrics::evaluate(qualification), "signal_to_noise").value, 50 / (6 / std::sqrt(12.0)),
                1e-9));
}

TEST_CASE("a waveform gives ripple frequency, flicker and the error of the product's integration time",
          "[ripple]")
{
    // Closed forms: m = 0.2 at 100 Hz, 10.5 cycles, no tolerance of the time; within 1 % the worst is near
    // 10.5 of 10.395 ... 10.605 cycles: 0.2/(pi f T) there.
    auto qualification = laboratory();
    qualification.product.integration_time = quantity(0.105, "s", 0);
    qualification.runs = {waveform(0.2)};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "ripple_frequency").value, 100, 1e-9));
    CHECK(std::abs(*only(evaluation, "percent_flicker").value - 20) < 0.05);  // 50 readings a period
    CHECK(std::abs(*only(evaluation, "flicker_index").value - 0.2 / std::numbers::pi) < 2e-4);
    const double error = *only(evaluation, "ripple_error").value;
    CHECK(error >= 100 * 0.2 * 0.03031522725559911 * (1 - 1e-9));
    CHECK(error < 100 * 0.2 * 0.03031522725559911 * 1.002);
    CHECK(all_of(evaluation, "ripple_integration_time").empty());
    qualification.evaluation.ripple_error = 0.01;
    const auto stated = metrics::evaluate(qualification);
    const auto& shortest = only(stated, "ripple_integration_time");
    CHECK(model::condition_text(shortest.conditions.at("error")) == "1%");
    CHECK(*shortest.value > 0);
}

TEST_CASE("without a waveform the supply bounds the ripple, a direct current has none", "[ripple]")
{
    auto qualification = laboratory();
    qualification.product.integration_time = quantity(0.105, "s", 0);
    qualification.sources[0].supply = "mains";
    qualification.sources[0].supply_frequency_hz = 50;
    qualification.runs = {levels({100}, 1)};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& bound = only(evaluation, "ripple_error");
    // By hand: 5.25 cycles at 50 Hz, within 1 % down to 5.1975: 0.8025/5.1975 = 15.44 %.
    CHECK(agree(*bound.value, 100 * (1 - 0.1975) / 5.1975, 1e-9));
    CHECK(bound.upper_bound);
    qualification.sources[0].supply = "dc";
    CHECK(all_of(metrics::evaluate(qualification), "ripple_error").empty());
    qualification.sources[0].supply = "mains";
    qualification.product.integration_time.reset();
    CHECK(only(metrics::evaluate(qualification), "ripple_error").undecided ==
          "the integration time of the product is not stated");
}

TEST_CASE("constant and unusable waveforms are told, never NaN", "[ripple]")
{
    auto qualification = laboratory();
    qualification.product.integration_time = quantity(0.1, "s", 0);
    qualification.runs = {waveform(0)};
    const auto still = metrics::evaluate(qualification);
    CHECK(*only(still, "percent_flicker").value == 0);
    CHECK(only(still, "ripple_frequency").undecided == "run w: no ripple stands above the noise");
    CHECK(all_finite(still));
    qualification.runs.front().rows.resize(3);
    const auto few = metrics::evaluate(qualification);
    CHECK(only(few, "ripple_error").undecided == "run w: fewer than 16 readings tell no waveform");
    CHECK(all_finite(few));
}
