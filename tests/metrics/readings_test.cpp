#include "metrics/readings.hpp"

#include "metrics/laboratory.hpp"
#include "statistics/lag_one.hpp"
#include "statistics/summary.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;
using metrics::Bench;

namespace {

metrics::SetRequest request(const std::string& column, std::vector<std::uint32_t> rows,
                            const std::string& identity)
{
    return {column, std::move(rows), identity, column, column, std::nullopt, ""};
}

model::Qualification with_sensor(std::vector<double> sensor)
{
    auto qualification = laboratory();
    const std::vector<double> same(sensor.size(), 100.0);
    qualification.runs = {comparison("r", same, std::move(sensor), same)};
    return qualification;
}

std::vector<std::uint32_t> rows(std::uint32_t from, std::uint32_t to)
{
    std::vector<std::uint32_t> all;
    for (auto row = from; row < to; ++row)
        all.push_back(row);
    return all;
}

}  // namespace

TEST_CASE("a mean of readings has u = s over root n and n - 1 degrees of freedom (JCGM 100:2008, 4.2.3)",
          "[readings]")
{
    const auto qualification = with_sensor({10.0, 10.4, 10.2, 10.8, 10.6});
    Bench bench(qualification);
    const auto mean = metrics::mean_of(bench, 0, request("sensor", rows(0, 5), ""));
    const auto& set = bench.set(mean.set);
    CHECK(agree(set.mean, 10.4, 1e-14));
    CHECK(agree(set.standard_deviation, std::sqrt(0.1), 1e-12));  // deviations 0, +-0.2, +-0.4: 0.4/4
    CHECK(agree(set.standard_uncertainty, std::sqrt(0.1 / 5), 1e-12));
    CHECK(set.degrees_of_freedom == 4);
    CHECK(!set.resolution_input.has_value());
    CHECK(mean.trail.decided());
}

TEST_CASE("a resolution input is added where s is below half a step, and not from half a step on",
          "[readings]")
{
    // q = 0.1 lx. s of {0, 0, 0, x} is x/2: x = 0.1 gives exactly q/2, which s holds already.
    const double x = GENERATE(0.0, 0.0999, 0.1, 0.3);
    const auto qualification = with_sensor({8.0, 8.0, 8.0, 8.0 + x, 8.0 + x / 4});
    Bench bench(qualification);
    const auto mean = metrics::mean_of(bench, 0, request("sensor", rows(0, 5), ""));
    const auto& set = bench.set(mean.set);
    CAPTURE(x, set.standard_deviation);
    CHECK(set.resolution_input.has_value() == (set.standard_deviation < 0.05));
    if (x == 0) {
        CHECK(set.standard_deviation == 0);
        const auto& input = bench.builder().graph().inputs()[set.resolution_input->index];
        CHECK(agree(input.standard_uncertainty, 0.1 / std::sqrt(12.0), 1e-15));
    }
}

TEST_CASE("without a stated resolution the smallest step of the data is taken, with a remark", "[readings]")
{
    auto qualification = with_sensor({8.0, 8.0, 8.0, 8.0, 8.0, 9.0, 9.2, 9.5});
    qualification.product.resolution.reset();
    Bench bench(qualification);
    const auto mean = metrics::mean_of(bench, 0, request("sensor", rows(0, 5), ""));
    REQUIRE(bench.set(mean.set).resolution.has_value());
    CHECK(agree(*bench.set(mean.set).resolution, 0.2, 1e-12));
    CHECK(bench.set(mean.set).resolution_from_data);
    CHECK(mean.trail.remarks.size() == 1);
    CHECK(mean.trail.decided());
}

TEST_CASE("equal readings of a device whose resolution nothing tells are not decided", "[readings]")
{
    auto qualification = with_sensor({8.0, 8.0, 8.0, 8.0, 8.0});
    qualification.product.resolution.reset();
    Bench bench(qualification);
    const auto mean = metrics::mean_of(bench, 0, request("sensor", rows(0, 5), ""));
    CHECK(mean.total.value() == 8.0);
    CHECK(mean.trail.uncertainty_unknown);
    REQUIRE(!mean.trail.decided());
    CHECK(mean.trail.undecided.front() ==
          "run r, sensor: all readings of sensor are equal and its resolution is not known");
}

TEST_CASE("small sets of one run pool their relative standard deviations as one term", "[readings]")
{
    // relative s: 0.01 and 0.02 with n = 3 each: s_p^2 = (2 x 0.0001 + 2 x 0.0004)/4
    const auto qualification = with_sensor({99.0, 100.0, 101.0, 980.0, 1000.0, 1020.0});
    Bench bench(qualification);
    const auto means = metrics::means_of(
        bench, 0, std::vector{request("sensor", rows(0, 3), "a"), request("sensor", rows(3, 6), "b")});
    const double pooled = std::sqrt((2 * 0.0001 + 2 * 0.0004) / 4);
    const auto& first = bench.set(means[0].set);
    CHECK(first.pooled);
    CHECK(agree(first.standard_uncertainty, pooled * 100 / std::sqrt(3.0), 1e-12));
    CHECK(agree(bench.set(means[1].set).standard_uncertainty, pooled * 1000 / std::sqrt(3.0), 1e-12));
    CHECK(first.degrees_of_freedom == 4);
    CHECK(first.pool == std::vector{means[0].set, means[1].set});
    const auto group = bench.builder().graph().group_of(*first.input);
    REQUIRE(group.has_value());
    CHECK(group == bench.builder().graph().group_of(*bench.set(means[1].set).input));
    CHECK(bench.builder().graph().groups()[*group].degrees_of_freedom == 4);
}

TEST_CASE("a single reading takes the pooled standard deviation of its like sets", "[readings]")
{
    const auto qualification = with_sensor({99.0, 100.0, 101.0, 990.0, 1000.0, 1010.0, 50.0});
    Bench bench(qualification);
    const auto means =
        metrics::means_of(bench, 0,
                          std::vector{request("sensor", rows(0, 3), "a"), request("sensor", rows(3, 6), "b"),
                                      request("sensor", rows(6, 7), "c")});
    const auto& single = bench.set(means[2].set);
    CHECK(single.pooled);
    CHECK(agree(single.standard_uncertainty, 0.01 * 50, 1e-12));
    CHECK(means[2].trail.decided());
}

TEST_CASE("a single reading without like sets keeps its value and is not decided", "[readings]")
{
    const auto qualification = with_sensor({50.0});
    Bench bench(qualification);
    const auto mean = metrics::mean_of(bench, 0, request("sensor", rows(0, 1), ""));
    CHECK(mean.total.value() == 50.0);
    CHECK(mean.trail.uncertainty_unknown);
    CHECK(!mean.trail.decided());
    CHECK(mean.trail.remarks.size() == 1);
}

TEST_CASE("sets whose spreads differ by Cochran's test are not pooled, with a remark (ISO 5725-2)",
          "[readings]")
{
    // Critical value for p = 3, n = 3 at 1 %: 0.942 (ISO 5725-2, Table 4). Shares 1/3 pass,
    // 0.998 fails.
    const bool alike = GENERATE(true, false);
    const double spread = alike ? 1.0 : 40.0;
    const auto qualification =
        with_sensor({99.0, 100.0, 101.0, 99.0, 100.0, 101.0, 100.0 - spread, 100.0, 100.0 + spread});
    Bench bench(qualification);
    const auto means =
        metrics::means_of(bench, 0,
                          std::vector{request("sensor", rows(0, 3), "a"), request("sensor", rows(3, 6), "b"),
                                      request("sensor", rows(6, 9), "c")});
    CHECK(bench.set(means[0].set).pooled == alike);
    CHECK(means[0].trail.remarks.size() == (alike ? 0U : 1U));
    CHECK(bench.set(means[0].set).degrees_of_freedom == (alike ? 6 : 2));
    CHECK(means[0].trail.decided());
}

TEST_CASE("readings taken together make one term with the covariance of their pairs (JCGM 100:2008, 5.2.3)",
          "[readings]")
{
    const std::vector<double> sensor{10.0, 10.4, 10.2, 10.8, 10.6}, meter{20.0, 20.9, 20.3, 21.5, 21.3};
    auto qualification = laboratory();
    qualification.runs = {comparison("r", std::vector<double>(5, 20.0), sensor, meter)};
    Bench bench(qualification);
    const auto a = request("sensor", rows(0, 5), ""), b = request("meter", rows(0, 5), "");
    const auto pair = metrics::pairs_of(bench, 0, {&a, 1}, {&b, 1}).front();
    const auto group = bench.builder().graph().group_of(*bench.set(pair.first.set).input);
    REQUIRE(group.has_value());
    const auto& together = bench.builder().graph().groups()[*group];
    CHECK(together.kind == uncertainty::InputGroup::Kind::observed_together);
    CHECK(together.degrees_of_freedom == 4);
    REQUIRE(together.covariance.size() == 4);
    CHECK(agree(together.covariance[1], statistics::covariance(sensor, meter) / 5, 1e-12));
    CHECK(together.covariance[1] == together.covariance[2]);
}

TEST_CASE("rows with one reading only do not count in a pair and are counted in a remark", "[readings]")
{
    auto qualification = laboratory();
    qualification.runs = {comparison("r", std::vector<double>(7, 20.0),
                                     {10.0, 10.2, missing, 10.4, 10.6, 99.0, 10.3},
                                     {20.0, 20.2, 77.0, 20.4, 20.6, missing, 20.3})};
    Bench bench(qualification);
    const auto a = request("sensor", rows(0, 7), ""), b = request("meter", rows(0, 7), "");
    const auto pair = metrics::pairs_of(bench, 0, {&a, 1}, {&b, 1}).front();
    CHECK(bench.set(pair.first.set).n == 5);
    CHECK(agree(bench.set(pair.second.set).mean, 20.3, 1e-14));
    CHECK(pair.first.trail.remarks.size() == 1);
    CHECK(std::move(bench).finish(1).remarks.front().seen == "2 rows with one reading only");
}

TEST_CASE("two pairs are correlated by exactly one and still make a covariance", "[readings]")
{
    auto qualification = laboratory();
    qualification.runs = {comparison("r", {20.0, 20.0}, {10.1, 10.4}, {20.3, 20.7})};
    Bench bench(qualification);
    const auto a = request("sensor", rows(0, 2), ""), b = request("meter", rows(0, 2), "");
    REQUIRE_NOTHROW(metrics::pairs_of(bench, 0, {&a, 1}, {&b, 1}));
}

TEST_CASE(
    "autocorrelated readings in time order are worth fewer readings, and both devices of a pair share it",
    "[readings]")
{
    // A slow ramp: r1 near 1. A second level where neighbours differ keeps the device from showing it.
    std::vector<double> ramp, sensor_readings, noise, levels(20, 100.0);
    for (int i = 0; i < 20; ++i)
        ramp.push_back(100 + 0.1 * i);
    sensor_readings = ramp;
    for (int i = 0; i < 40; ++i)
        noise.push_back(200 + (i % 2 == 0 ? 1.0 : -1.0) + 0.01 * i);
    for (int i = 0; i < 20; ++i) {
        levels.push_back(1000);
        sensor_readings.push_back(1000 + (i % 2 == 0 ? 1.0 : -1.0));
    }
    auto qualification = laboratory();
    qualification.runs = {comparison("r", levels, sensor_readings, noise)};
    qualification.runs[0].time_ordered = GENERATE(true, false);
    Bench bench(qualification);
    const auto a = request("sensor", rows(0, 20), ""), b = request("meter", rows(0, 20), "");
    const auto pair = metrics::pairs_of(bench, 0, {&a, 1}, {&b, 1}).front();
    const auto& sensor = bench.set(pair.first.set);
    const auto& meter = bench.set(pair.second.set);
    if (!qualification.runs[0].time_ordered) {
        CHECK(!sensor.autocorrelated);
        CHECK(sensor.degrees_of_freedom == 19);
        return;
    }
    const auto lag = statistics::autocorrelation(ramp);
    REQUIRE(lag.significant);
    CHECK(sensor.autocorrelated);
    CHECK(!meter.autocorrelated);
    CHECK(sensor.degrees_of_freedom == lag.degrees_of_freedom);
    CHECK(meter.degrees_of_freedom == lag.degrees_of_freedom);
    const double own = meter.standard_deviation / std::sqrt(20.0);
    CHECK(agree(meter.standard_uncertainty, own * std::sqrt(lag.variance_factor), 1e-12));
}

namespace {

/// Three levels of nine readings whose neighbours are alike; each r1 alone is below Anderson's bound, and
/// sets of fewer than ten readings are not judged by their own.
const std::vector<double> alike{0.10, 0.85,  0.98, 0.35,  0.40,  -0.30, -0.75, -0.90, -0.20,
                                -0.8, -0.35, 0.05, 0.60,  0.95,  0.70,  0.10,  -0.45, -0.60,
                                0.55, 0.90,  0.60, -0.05, -0.50, -0.95, -0.70, -0.10, 0.30};

/// Sets of n readings of `alike` with something that changes quickly on top (the last of each nine left out
/// where n is smaller), the meter steady but for one step; one second between readings.
model::Qualification with_alike_sensor(std::size_t n, double interval_s = 1)
{
    std::vector<double> level, sensor, meter, time;
    for (std::size_t set = 0; set < 3; ++set)
        for (std::size_t i = 0; i < n; ++i) {
            level.push_back(std::pow(10.0, 1.0 + static_cast<double>(set)));
            const double quick = i % 3 == 0 ? 0.6 : i % 3 == 1 ? -0.6 : 0.0;
            sensor.push_back(level.back() * (1 + 0.02 * (alike[9 * set + i] + quick)));
            meter.push_back(level.back() * (i % 2 == 0 ? 1.0 : 1.001));
            time.push_back(interval_s * static_cast<double>(time.size()));
        }
    auto qualification = laboratory();
    qualification.runs = {comparison("r", level, sensor, meter)};
    auto table = std::make_shared<model::Table>(*qualification.runs[0].table);
    table->numbers.push_back(column("time", "s", time));
    qualification.runs[0].table = table;
    qualification.runs[0].time_ordered = true;
    return qualification;
}

std::vector<double> sensor_of(const model::Qualification& qualification, std::uint32_t from, std::uint32_t to)
{
    const auto& values = qualification.runs[0].table->number("sensor")->values;
    return {values.begin() + from, values.begin() + to};
}

}  // namespace

TEST_CASE("sets that do not show how their neighbours correlate take it from all sets of the device",
          "[readings]")
{
    auto qualification = with_alike_sensor(9);
    const bool ordered = GENERATE(true, false);
    qualification.runs[0].time_ordered = ordered;
    Bench bench(qualification);
    const auto a = request("sensor", rows(0, 9), "level=10lx"),
               b = request("meter", rows(0, 9), "level=10lx");
    const auto pair = metrics::pairs_of(bench, 0, {&a, 1}, {&b, 1}).front();
    const auto& sensor = bench.set(pair.first.set);
    const auto& meter = bench.set(pair.second.set);
    const auto values = sensor_of(qualification, 0, 9);
    const double s = statistics::summarise(values).standard_deviation;
    CHECK_FALSE(sensor.autocorrelated);
    if (!ordered) {
        CHECK(agree(sensor.standard_uncertainty, s / 3, 1e-12));
        CHECK(sensor.degrees_of_freedom == 8);
        CHECK_FALSE(sensor.device.has_value());
        return;
    }
    statistics::DeviceCorrelation device;
    for (std::uint32_t set = 0; set < 3; ++set)
        device.add(sensor_of(qualification, 9 * set, 9 * set + 9));
    REQUIRE(device.r() > 0.5);
    const auto moments = statistics::correlated_set(9, device.r());
    // u^2 = sigma^2/n_eff, where sigma^2 = (n-1) s^2/trace is what makes s as large as it was found.
    const double factor = 8 / moments.trace / moments.effective_n;
    CHECK(agree(sensor.standard_uncertainty, s * std::sqrt(factor), 1e-12));
    const double nu = 1 / (moments.trace_of_square / std::pow(moments.trace, 2) +
                           2 / (device.weight * std::pow(1 - device.r() * device.r(), 2)));
    CHECK(agree(sensor.degrees_of_freedom, std::max(1.0, nu), 1e-12));
    // The meter alternates: none of its own, but what was read together is enlarged together.
    CHECK(agree(meter.standard_uncertainty, meter.standard_deviation * std::sqrt(factor), 1e-12));
    CHECK(meter.degrees_of_freedom == sensor.degrees_of_freedom);
    const auto group = bench.builder().graph().group_of(*sensor.input);
    REQUIRE(group.has_value());
    const auto meter_values = qualification.runs[0].table->number("meter")->values;
    CHECK(agree(bench.builder().graph().groups()[*group].covariance[1],
                statistics::covariance(values, std::span(meter_values).first(9)) * factor, 1e-12));
    CHECK(sensor.device != meter.device);
    const auto evaluation = std::move(bench).finish(1);
    CHECK(evaluation.devices.at(*sensor.device).words == "sensor of S1, read about 1 s apart");
    CHECK(evaluation.devices[*sensor.device].sets == 3);
    CHECK(evaluation.devices[*meter.device].r == 0);
}

TEST_CASE("small sets that pool their spread take the correlation of the device as well", "[readings]")
{
    // Three sets of four: pooled s_p, and three sets of nine at the same interval in another run, which show
    // how the neighbours correlate.
    auto qualification = with_alike_sensor(4);
    qualification.runs.push_back(with_alike_sensor(9).runs[0]);
    qualification.runs[1].id = "long";
    Bench bench(qualification);
    std::vector<metrics::SetRequest> sensors, meters;
    for (std::uint32_t set = 0; set < 3; ++set) {
        sensors.push_back(request("sensor", rows(4 * set, 4 * set + 4), std::to_string(set)));
        meters.push_back(request("meter", rows(4 * set, 4 * set + 4), std::to_string(set)));
    }
    const auto pairs = metrics::pairs_of(bench, 0, sensors, meters);
    const auto& sensor = bench.set(pairs[1].first.set);
    REQUIRE(sensor.pooled);
    const auto device = bench.device(*sensor.device);
    CHECK(device.sets == 6);
    REQUIRE(device.r > 0.3);
    double squares = 0;
    for (std::uint32_t set = 0; set < 3; ++set) {
        const auto summary = statistics::summarise(sensor_of(qualification, 4 * set, 4 * set + 4));
        squares += 3 * std::pow(summary.standard_deviation / summary.mean, 2);
    }
    const auto moments = statistics::correlated_set(4, device.r);
    const double sigma = std::sqrt(squares / (3 * moments.trace)) * sensor.mean;
    CHECK(agree(sensor.standard_uncertainty, sigma / std::sqrt(moments.effective_n), 1e-12));
    const double nu = 1 / (3 * moments.trace_of_square / std::pow(3 * moments.trace, 2) +
                           2 / (device.weight * std::pow(1 - device.r * device.r, 2)));
    CAPTURE(device.r, device.weight, nu, sensor.degrees_of_freedom);
    CHECK(agree(sensor.degrees_of_freedom, nu, 1e-12));
    const auto group = bench.builder().graph().group_of(*sensor.input);
    REQUIRE(group.has_value());
    CHECK(agree(bench.builder().graph().groups()[*group].degrees_of_freedom, nu, 1e-12));
}

TEST_CASE("readings at another interval say nothing about how neighbours correlate", "[readings]")
{
    auto qualification = with_alike_sensor(4, 60.0);
    qualification.runs.push_back(with_alike_sensor(9).runs[0]);
    qualification.runs[1].id = "long";
    Bench bench(qualification);
    const auto a = request("sensor", rows(0, 4), "");
    const auto slow = bench.set(metrics::mean_of(bench, 0, a).set);
    const auto quick = bench.set(metrics::mean_of(bench, 1, a).set);
    CHECK(slow.device != quick.device);
    CHECK(bench.device(*slow.device).words == "sensor of S1, read about 64 s apart");
    CHECK(agree(slow.standard_uncertainty, slow.standard_deviation / 2, 1e-12));
    CHECK(quick.standard_uncertainty > 1.2 * quick.standard_deviation / 2);
}

TEST_CASE("a set keeps its own correlation where it is larger than that of its device", "[readings]")
{
    // Waves of 5, 5, 5, 5, 5, 5 and 7 readings (r1 about cos(2 pi/period)) and a ramp, 40 readings each.
    constexpr std::uint32_t n = 40, wave_of_seven = 6, ramp = 7;
    std::vector<double> level, sensor, meter;
    for (std::uint32_t set = 0; set <= ramp; ++set)
        for (std::uint32_t i = 0; i < n; ++i) {
            const double turn = 2 * std::numbers::pi * i / (set == wave_of_seven ? 7 : 5);
            level.push_back(10.0 * (set + 1));
            sensor.push_back(level.back() * (1 + 0.01 * (set == ramp ? 0.1 * i : std::cos(turn))));
            meter.push_back(level.back() * (i % 2 == 0 ? 1.0 : 1.001));
        }
    auto qualification = laboratory();
    qualification.runs = {comparison("r", level, sensor, meter)};
    qualification.runs[0].time_ordered = true;
    Bench bench(qualification);
    const auto set_of = [&](std::uint32_t set) {
        return bench.set(
            metrics::mean_of(bench, 0, request("sensor", rows(n * set, n * set + n), std::to_string(set)))
                .set);
    };
    const auto own = [&](std::uint32_t set) {
        return statistics::autocorrelation({sensor.data() + n * set, n});
    };
    REQUIRE(own(wave_of_seven).significant);
    REQUIRE(own(ramp).significant);
    const auto by_device = set_of(wave_of_seven), by_itself = set_of(ramp);
    const auto device = bench.device(*by_device.device);
    REQUIRE(device.r > 0.3);

    CHECK(by_device.autocorrelated);
    CHECK_FALSE(by_device.by_itself);
    const auto moments = statistics::correlated_set(n, device.r);
    CHECK(agree(by_device.degrees_of_freedom,
                statistics::correlated_degrees_of_freedom(moments.trace, moments.trace_of_square, device.r,
                                                          device.weight),
                1e-12));
    CHECK(agree(by_device.standard_uncertainty,
                by_device.standard_deviation * std::sqrt((n - 1) / (moments.trace * moments.effective_n)),
                1e-12));

    CHECK(by_itself.by_itself);
    CHECK(by_itself.degrees_of_freedom == own(ramp).degrees_of_freedom);
    CHECK(agree(by_itself.standard_uncertainty,
                by_itself.standard_deviation * std::sqrt(own(ramp).variance_factor / n), 1e-12));
}

TEST_CASE("the range of a mean is the column's, else the smallest that is not below the mean", "[readings]")
{
    auto qualification = laboratory();
    qualification.meters[0].ranges = {{20, 0.01}, {200, 0.1}, {2000, 1}};
    qualification.runs = {comparison("r", {20, 20, 20, 20}, {20, 20, 20, 20}, {20, 20, 150, 3000})};
    Bench bench(qualification);
    const auto at = [&](std::uint32_t row, double mean) {
        return metrics::meter_range(bench, 0, request("meter", {row}, ""), mean);
    };
    CHECK(at(0, 20.0).range == 0U);
    CHECK(at(0, 20.0).resolution_lx == 0.01);
    CHECK(at(0, 20.001).range == 1U);
    CHECK(at(3, 3000.0).range == 2U);

    auto table = std::make_shared<model::Table>(*qualification.runs[0].table);
    table->numbers.push_back(column("range", "lx", {2000, 2000, 200, 200}));
    auto stated = qualification;
    stated.runs[0].table = table;
    Bench other(stated);
    CHECK(metrics::meter_range(other, 0, request("meter", {0, 1}, ""), 15.0).range == 2U);
}
