#include "metrics/warm_up_log.hpp"

#include "metrics/in_memory.hpp"
#include "metrics/metrics.hpp"
#include "metrics/settled_log.hpp"

#include <limits>

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::metrics;
using test::agree;

namespace {

struct Log {
    std::vector<double> time_s, level;
    [[nodiscard]] LevelLog view() const { return {time_s, level}; }
};

/// A (1 + b exp(-t/tau)), read every `interval_s`, with normal noise of relative standard deviation `noise`.
Log exponential(double b, double tau_s, double interval_s, double end_s, double noise = 0,
                std::uint64_t seed = 1)
{
    Log log;
    std::mt19937_64 generator(seed);
    std::normal_distribution<double> normal;
    for (int i = 0; i * interval_s <= end_s; ++i) {
        log.time_s.push_back(i * interval_s);
        log.level.push_back(500 * (1 + b * std::exp(-i * interval_s / tau_s)) *
                            (1 + noise * normal(generator)));
    }
    return log;
}

model::Qualification bench_of(const Log& log, std::optional<double> tolerance = 0.005,
                              std::optional<double> window_s = 600)
{
    model::Qualification qualification;
    model::Source source;
    source.id = "led";
    source.settling_tolerance = tolerance;
    qualification.sources = {source};
    qualification.evaluation.settling_window_s = window_s;
    auto run = test::run_of("log", model::RunKind::warm_up,
                            {test::column("time", "s", log.time_s), test::column("meter", "lx", log.level)});
    run.source = "led";
    qualification.runs = {run};
    return qualification;
}

const model::Result& result(const model::Evaluation& evaluation, const std::string& metric)
{
    const auto* found = test::find(evaluation, metric + "/source=led");
    REQUIRE(found != nullptr);
    return *found;
}

std::vector<double> centred_mean_by_definition(const std::vector<double>& levels, std::size_t half_length)
{
    std::vector<double> means;
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const std::size_t m = std::min({half_length, i, levels.size() - 1 - i});
        double sum = 0;
        for (std::size_t j = i - m; j <= i + m; ++j)
            sum += levels[j];
        means.push_back(sum / static_cast<double>(2 * m + 1));
    }
    return means;
}

}  // namespace

TEST_CASE("an exponential warm-up settles at tau ln(|b|/p)", "[metrics][warm-up]")
{
    // Closed form: A (1 + b exp(-t/tau)) stays within +-p of A from t = tau ln(|b|/p) on. The window is so
    // short that the filter takes one reading; linear interpolation over 1 s misses by at most h^2/(8 tau).
    struct Row {
        double b, tau_s, p, expected_s;
    };
    const auto row = GENERATE(values<Row>({{0.05, 600, 0.005, 1381.5510557964276},
                                           {-0.02, 300, 0.001, 898.7196820661973},
                                           {0.004, 600, 0.005, 0.0}}));
    CAPTURE(row.b, row.tau_s, row.p);
    const auto log = exponential(row.b, row.tau_s, 1, 40 * row.tau_s);
    const auto settling = settle(log.view(), row.p, 19, 1);
    CHECK(settling.half_length == 0);
    REQUIRE(settling.time_s);
    CHECK(std::abs(*settling.time_s - row.expected_s) <= 1 / (8 * row.tau_s));
    CHECK(settling.unsettled.empty());
    CHECK(settling.always_inside == (row.expected_s == 0));
}

TEST_CASE("the filter shifts an exponential by its own closed form", "[metrics][warm-up]")
{
    // The centred mean of an exponential is the exponential times F = (1 + 2 sum cosh(i h/tau))/(2m + 1).
    const double tau_s = 600, b = 0.05, p = 0.005;
    const auto log = exponential(b, tau_s, 1, 40 * tau_s);
    const auto settling = settle(log.view(), p, 600, 1);
    REQUIRE(settling.half_length == 30);
    double factor = 1;
    for (int i = 1; i <= 30; ++i)
        factor += 2 * std::cosh(i / tau_s);
    factor /= 61;
    REQUIRE(settling.time_s);
    CHECK(std::abs(*settling.time_s - tau_s * std::log(b * factor / p)) <= 1 / (8 * tau_s));
    REQUIRE(settling.slope_per_s);
    CHECK_FALSE(settling.flat);
    CHECK(agree(*settling.slope_per_s, -p / tau_s, 0.01));
}

TEST_CASE("the centred mean is that of its definition", "[metrics][warm-up]")
{
    const auto n = GENERATE(std::size_t{1}, std::size_t{2}, std::size_t{3}, std::size_t{10}, std::size_t{11},
                            std::size_t{100}, std::size_t{997});
    const auto m = GENERATE(std::size_t{0}, std::size_t{1}, std::size_t{2}, std::size_t{7}, std::size_t{60});
    CAPTURE(n, m);
    auto log = exponential(0.06, 30, 1, static_cast<double>(n - 1), 0.01);
    const auto found = centred_mean(log.level, m);
    const auto expected = centred_mean_by_definition(log.level, m);
    REQUIRE(found.size() == n);
    for (std::size_t i = 0; i < n; ++i)
        CHECK(agree(found[i], expected[i], 1e-14));
}

TEST_CASE("a level far above its changes keeps its digits in a log of a million rows", "[metrics][warm-up]")
{
    // A running sum of 1e9 over 1e6 rows would have lost 1e-1; the means of 201 readings must keep the
    // reading's own digits.
    std::vector<double> levels(1'000'000);
    for (std::size_t i = 0; i < levels.size(); ++i)
        levels[i] = 1e9 + static_cast<double>(i % 7);
    const auto found = centred_mean(levels, 100);
    for (const std::size_t i : {std::size_t{100}, std::size_t{333'333}, std::size_t{999'899}}) {
        double sum = 0;
        for (std::size_t j = i - 100; j <= i + 100; ++j)
            sum += static_cast<double>(j % 7);
        CHECK(std::abs(found[i] - 1e9 - sum / 201) < 2.5e-7);  // two steps of a double near 1e9
    }
}

TEST_CASE("the filter takes a tenth of the window", "[metrics][warm-up]")
{
    CHECK(filter_half_length(600, 15) == 2);
    CHECK(filter_half_length(600, 1) == 30);
    CHECK(filter_half_length(600, 31) == 0);
    // 0.1 s intervals of a logger are 0.10000000000002 s by their difference: still 300 readings to each
    // side.
    CHECK(filter_half_length(600, 10000.1 - 10000.0) == 300);
}

TEST_CASE("the median interval is not moved by a gap", "[metrics][warm-up]")
{
    CHECK(median_interval(std::vector<double>{0, 1, 2, 3, 100}) == 1);
    CHECK(median_interval(std::vector<double>{0, 1, 3}) == 1.5);
}

TEST_CASE("a steep crossing carries the log interval and the noise over the slope", "[metrics][warm-up]")
{
    const auto log = exponential(0.06, 300, 1, 7200, 2e-4);
    const auto evaluation = evaluate(bench_of(log));
    const auto settling = settle(log.view(), 0.005, 600, 1);
    const auto& time = result(evaluation, "warm_up_time");
    REQUIRE(time.combined);
    CHECK(time.undecided.empty());
    CHECK(*time.value == *settling.time_s);
    const double of_noise = settling.filtered_standard_deviation / std::abs(*settling.slope_per_s);
    CHECK(agree(time.combined->standard_uncertainty, std::sqrt(1.0 / 12 + of_noise * of_noise), 1e-12));
    CHECK(settling.noise_degrees_of_freedom == std::floor(600.0 / 61) - 1);
    CHECK(std::abs(*time.value - 300 * std::log(0.06 / 0.005)) < 3 * time.combined->expanded_uncertainty);
}

TEST_CASE("the last window gives drift, peak-to-peak and standard deviation of the unfiltered readings",
          "[metrics][warm-up]")
{
    // Level 100 + 0.001 t with +-0.1 in turn: slope, mean and scatter follow by hand. Window 40 s: t > 60, 40
    // readings.
    Log log;
    for (int t = 0; t <= 100; ++t) {
        log.time_s.push_back(t);
        log.level.push_back(100 + (t % 2 == 0 ? 0.1 : -0.1));
    }
    const auto window = last_window(log.view(), 40);
    CHECK(window.first == 61);
    CHECK(window.n == 40);
    CHECK(agree(window.final_level, 100, 1e-15));
    CHECK(agree(window.peak_to_peak, 0.002, 1e-12));
    CHECK(agree(window.standard_deviation, 0.001 * std::sqrt(40.0 / 39), 1e-12));
    // Slope of +-1 in turn over 40 points: (sum of (t - t_mean) y)/(sum of squares) = 20/5330.
    CHECK(agree(window.slope_per_s, 0.001 * 20 / 5330, 1e-10));
    const auto evaluation = evaluate(bench_of(log, 0.005, 40));
    const auto& drift = result(evaluation, "residual_drift");
    CHECK(agree(*drift.value, 0.1 * 20 / 5330 * 40, 1e-10));
    CHECK(drift.combined->degrees_of_freedom == 38);
    CHECK_FALSE(result(evaluation, "level_peak_to_peak").combined);
    CHECK(agree(*result(evaluation, "level_peak_to_peak").value, 0.2, 1e-12));
}

TEST_CASE("a log that does not show that its source settles is not decided, with the reason",
          "[metrics][warm-up]")
{
    const auto reason = [](const Log& log, std::optional<double> tolerance = 0.005,
                           std::optional<double> window_s = 600) {
        const auto evaluation = evaluate(bench_of(log, tolerance, window_s));
        return result(evaluation, "warm_up_time").undecided;
    };
    SECTION("noise above a quarter of the tolerance")
    {
        // Quiet at the very end, where the filter is too short to help: else the last readings lie outside.
        auto log = exponential(0.06, 300, 1, 7200, 0.012);
        const auto quiet = exponential(0.06, 300, 1, 7200);
        std::copy(quiet.level.end() - 61, quiet.level.end(), log.level.end() - 61);
        CHECK_THAT(reason(log),
                   Catch::Matchers::StartsWith(
                       "the settling tolerance of 0.5 % is less than four times the noise of the filtered "
                       "level, 0.1"));
    }
    SECTION("a log shorter than three warm-up times")
    {
        CHECK_THAT(reason(exponential(0.06, 300, 1, 2200, 1e-4)),
                   Catch::Matchers::StartsWith(
                       "the log lasts 2200 s, less than three times the warm-up time of 739.6 s"));
    }
    SECTION("drift of a quarter of the tolerance over the last window")
    {
        auto log = exponential(0.06, 100, 1, 7200, 1e-5);
        for (std::size_t i = 0; i < log.level.size(); ++i)
            log.level[i] *= 1 + 3e-6 * (log.time_s[i] - 7200) * (log.time_s[i] > 6000);
        CHECK_THAT(reason(log),
                   Catch::Matchers::StartsWith("the level drifts by 0.18 % over the last window"));
    }
    SECTION("a level that is outside at the end")
    {
        auto log = exponential(0, 100, 1, 3600);
        log.level.back() *= 1.1;
        CHECK(reason(log) == "the level still leaves the settling tolerance at the end of the log");
    }
    SECTION("no tolerance")
    {
        const auto evaluation = evaluate(bench_of(exponential(0.06, 300, 1, 7200, 1e-4), std::nullopt));
        CHECK(result(evaluation, "warm_up_time").undecided == "no settling_tolerance is stated for led");
        CHECK_FALSE(result(evaluation, "warm_up_time").value);
        CHECK(result(evaluation, "residual_drift").undecided.empty());
        CHECK(result(evaluation, "residual_drift").combined);
    }
    SECTION("no window")
    {
        CHECK(reason(exponential(0.06, 300, 1, 7200), 0.005, std::nullopt) ==
              "evaluation.settling_window is not stated");
    }
}

TEST_CASE("a log that cannot be read as one is not decided", "[metrics][warm-up]")
{
    const auto reason = [](const Log& log) {
        const auto evaluation = evaluate(bench_of(log));
        CHECK(evaluation.results.size() == 6);
        return result(evaluation, "warm_up_time").undecided;
    };
    CHECK(reason({{}, {}}) == "the warm-up log holds fewer than two readings");
    CHECK(reason({{0}, {100}}) == "the warm-up log holds fewer than two readings");
    CHECK(reason({{0, 2, 1}, {100, 100, 100}}) == "the times of the warm-up log decrease");
    CHECK(reason({{5, 5, 5}, {100, 100, 100}}) == "all readings of the warm-up log have the same time");
    CHECK(reason({{0, 1, 2}, {0, 0, 0}}) == "the final level of the warm-up log is not above zero");
    CHECK(reason({{0, 1}, {100, 102}}) ==
          "the level still leaves the settling tolerance at the end of the log");
}

TEST_CASE("a log of two equal readings is inside from the start but tells no noise", "[metrics][warm-up]")
{
    const auto evaluation = evaluate(bench_of({{0, 1000}, {100, 100}}));
    const auto& time = result(evaluation, "warm_up_time");
    CHECK(*time.value == 0);
    CHECK_FALSE(time.combined);
    CHECK_THAT(time.undecided,
               Catch::Matchers::StartsWith("the last window holds fewer readings than twice"));
    CHECK(result(evaluation, "residual_drift").undecided ==
          "the last window holds fewer than three readings");
    CHECK(result(evaluation, "level_standard_deviation").undecided == "the last window holds one reading");
}

TEST_CASE("a log of equal readings has no drift that could be told from its resolution", "[metrics][warm-up]")
{
    const auto all_equal = evaluate(bench_of(exponential(0, 100, 1, 3600)));
    CHECK(result(all_equal, "residual_drift").undecided ==
          "all readings of the log are equal: it shows no resolution");
    CHECK(*result(all_equal, "warm_up_time").value == 0);
    CHECK(*result(all_equal, "level_peak_to_peak").value == 0);

    // A step of 0.5 lx early in the log shows the resolution: q/sqrt(12) of 500 lx.
    auto log = exponential(0, 100, 1, 3600);
    log.level.front() += 0.5;
    const auto stepped = evaluate(bench_of(log));
    const auto& drift = result(stepped, "residual_drift");
    CHECK(*drift.value == 0);
    REQUIRE(drift.combined);
    CHECK(agree(drift.combined->standard_uncertainty, 100 * 0.5 / 500 / std::sqrt(12.0), 1e-12));
}

TEST_CASE("missing readings and excluded rows are left out of a log", "[metrics][warm-up]")
{
    const auto whole = exponential(0.06, 300, 1, 7200, 1e-4);
    auto gappy = whole;
    gappy.level[3000] = std::numeric_limits<double>::quiet_NaN();
    gappy.level[4000] = 1e9;
    auto qualification = bench_of(gappy);
    auto& rows = qualification.runs.front().rows;
    rows.erase(rows.begin() + 4000);
    const auto kept = logs_of(qualification.runs.front()).front();
    REQUIRE(kept.copies);
    CHECK(kept.log.level.size() == whole.level.size() - 2);
    const auto evaluation = evaluate(qualification);
    const auto expected = evaluate(bench_of(whole));
    CHECK(agree(*result(evaluation, "warm_up_time").value, *result(expected, "warm_up_time").value, 1e-12));
}

TEST_CASE("a whole log is used as it stands in its table", "[metrics][warm-up]")
{
    const auto qualification = bench_of(exponential(0.06, 300, 1, 7200));
    const auto& run = qualification.runs.front();
    const auto kept = logs_of(run).front();
    CHECK_FALSE(kept.copies);
    CHECK(kept.log.level.data() == run.table->number("meter")->values.data());
}

TEST_CASE("a flat crossing is judged by a circular block bootstrap", "[metrics][warm-up]")
{
    // So slow an exponential that the slope over 8 filtered readings drowns in their noise.
    const auto slow = [](std::uint64_t seed) { return exponential(0.03, 2000, 1, 20000, 2e-3, seed); };
    SECTION("its draws follow the stated seed")
    {
        auto log = slow(3);
        auto first = settle(log.view(), 0.005, 60, 1);
        REQUIRE(first.flat);
        CHECK(first.bootstrap_u_s > 0);
        CHECK(settle(log.view(), 0.005, 60, 1).bootstrap_u_s == first.bootstrap_u_s);
        const auto other = settle(log.view(), 0.005, 60, 2);
        CHECK(other.bootstrap_u_s != first.bootstrap_u_s);
        CHECK(agree(other.bootstrap_u_s, first.bootstrap_u_s, 0.2));
    }
    SECTION("it covers how far crossings scatter from log to log")
    {
        std::vector<double> times;
        double squares = 0;
        int count = 0;
        for (std::uint64_t seed = 1; seed <= 40; ++seed) {
            const auto settling = settle(slow(seed).view(), 0.005, 60, 1);
            times.push_back(settling.time_s.value_or(0));
            if (settling.flat) {
                squares += settling.bootstrap_u_s * settling.bootstrap_u_s;
                ++count;
            }
        }
        double mean = 0, variance = 0;
        for (const double time : times)
            mean += time / 40;
        for (const double time : times)
            variance += (time - mean) * (time - mean) / 39;
        REQUIRE(count >= 10);
        const double ratio = std::sqrt(squares / count / variance);
        CAPTURE(count, mean, std::sqrt(variance), ratio);
        CHECK(ratio > 1);
        CHECK(ratio < 3);  // too large rather than too small: the filtered log carries its noise already
    }
    SECTION("far inside the tolerance it has nothing to move")
    {
        const auto log = exponential(0, 300, 1, 7200, 1e-4);
        const auto settling = settle(log.view(), 0.02, 600, 1);
        CHECK(settling.always_inside);
        CHECK(settling.bootstrap_u_s == 0);
    }
}

TEST_CASE("the averaging time of least Allan deviation grows by doubling up to a third of the span",
          "[metrics][warm-up]")
{
    std::mt19937_64 generator(5);
    std::normal_distribution<double> normal;
    std::vector<double> white, walk;
    double sum = 0;
    for (int i = 0; i < 1000; ++i) {
        white.push_back(100 + normal(generator));
        walk.push_back(sum += normal(generator));
    }
    const auto least_white = stability_minimum(white, 2);
    const auto least_walk = stability_minimum(walk, 2);
    REQUIRE(least_white);
    CHECK(least_white->averaging_time_s >= 2 * 64);   // white noise averages out
    CHECK(least_white->averaging_time_s <= 2 * 256);  // 2^8 is the last power of two within 1000/3
    CHECK(least_walk->averaging_time_s <= 2 * 2);     // a random walk does not
    CHECK_FALSE(stability_minimum(std::vector<double>{1, 2}, 1));
}

TEST_CASE("a level of its own makes a result of its own", "[metrics][warm-up]")
{
    auto qualification = bench_of(exponential(0.06, 300, 1, 7200, 1e-4));
    qualification.runs.front().conditions["level"] = model::ConditionQuantity{100, "lx"};
    qualification.runs.front().configuration = "bare";
    const auto evaluation = evaluate(qualification);
    CHECK(test::find(evaluation, "warm_up_time/level=100lx/source=led") != nullptr);
}

TEST_CASE("each return to a level is a warm-up of its own", "[metrics][warm-up]")
{
    // 100 lx, 10 lx and 100 lx again, as a level column splits them into runs; the second visit settles more
    // slowly.
    const auto first = exponential(0.06, 100, 1, 2000, 1e-4), second = exponential(0.06, 200, 1, 4000, 1e-4);
    Log log;
    std::vector<double> nominal;
    const auto append = [&](const Log& part, double level) {
        const double start = log.time_s.empty() ? 0 : log.time_s.back() + 1;
        for (std::size_t i = 0; i < part.level.size(); ++i) {
            log.time_s.push_back(start + part.time_s[i]);
            log.level.push_back(part.level[i]);
            nominal.push_back(level);
        }
    };
    append(first, 100);
    append(first, 10);
    append(second, 100);
    auto qualification = bench_of(log);
    auto table = *qualification.runs.front().table;
    table.numbers.push_back(test::column("level", "lx", nominal));
    auto& run = qualification.runs.front();
    run.table = std::make_shared<model::Table>(table);
    std::erase_if(run.rows, [&](std::uint32_t row) { return nominal[row] != 100; });
    std::erase(run.rows, 50U);  // an exclusion is no level change
    run.conditions["level"] = model::ConditionQuantity{100, "lx"};
    const auto evaluation = evaluate(qualification);
    const auto* one = test::find(evaluation, "warm_up_time/level=100lx/source=led/visit=1");
    const auto* two = test::find(evaluation, "warm_up_time/level=100lx/source=led/visit=2");
    REQUIRE(one != nullptr);
    REQUIRE(two != nullptr);
    CHECK(evaluation.results.size() == 12);
    CHECK(std::abs(*one->value - 100 * std::log(12)) < 3);
    CHECK(std::abs(*two->value - 200 * std::log(12)) < 3);
}
