#include "small_bench.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;
using test::stated;

TEST_CASE("readings before the warm-up time are told", "[practice]")
{
    // 5 % with a time constant of 300 s is within 0.5 % after 300 ln 10 = 691 s.
    SmallBench bench;
    bench.run("levels").started = test::at(10, 8 + 600.0 / 3600.0);
    const auto found = bench.examine().of("not-warmed-up");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::concern);
    CHECK(found[0].run == "levels");
    bench.run("levels").started = test::at(10, 8 + 720.0 / 3600.0);
    CHECK_FALSE(bench.examine().raised("not-warmed-up"));
}

TEST_CASE("an LED that varies by more than 0.5 % in 15 minutes is not steady", "[practice]")
{
    const auto drifting = [](double percent) {
        SmallBench bench;
        auto& level = bench.column("warm-up", "meter");
        for (std::size_t index = 271; index < level.size(); ++index)  // the last 900 s, at 10 s
            level[index] *= 1.0 + percent / 100.0 * static_cast<double>(index - 270) / 90.0;
        return bench.examine().of("not-warmed-up");
    };
    CHECK(drifting(0.45).empty());
    REQUIRE(drifting(0.55).size() == 1);
    CHECK(drifting(0.55)[0].run == "warm-up");
}

TEST_CASE("a run whose source has no log is told, and blocked where only the log could tell S", "[practice]")
{
    SmallBench bench;
    bench.remove_run("warm-up");
    CHECK(bench.examine().of("not-warmed-up").at(0).severity == RemarkSeverity::concern);
    // Substitution A-B: ten rows of the meter, then ten of the product.
    bench.remove_run("levels");
    const double none = std::nan("");
    std::vector<double> meter, sensor, level;
    for (int index = 0; index < 20; ++index) {
        const double scatter = 0.01 * (index % 2 == 0 ? 1.0 : -1.0) * (1 + index % 3);
        meter.push_back(index < 10 ? 100.0 + scatter : none);
        sensor.push_back(index < 10 ? none : 101.0 + scatter);
        level.push_back(100);
    }
    auto& run = bench.add_run(model::RunKind::comparison, "one-way",
                              {{"meter", meter}, {"sensor", sensor}, {"level", level}});
    run.method = model::Method::substitution;
    run.sample = "S1";
    run.dark_run = "dark";
    CHECK(bench.examine().of("not-warmed-up").at(0).severity == RemarkSeverity::blocks);
    bench.qualification.sources[0].drift = 0.002;
    CHECK(bench.examine().of("not-warmed-up").at(0).severity == RemarkSeverity::concern);
}

TEST_CASE("ripple counts where its bound exceeds a third of the tolerance", "[practice]")
{
    SmallBench bench;
    auto& source = bench.qualification.sources[0];
    source.supply = "mains";
    source.supply_frequency_hz = 50;
    // 100 ms hold whole periods of 50 and 100 Hz: nothing is left over.
    bench.qualification.product.integration_time = stated(0.1, "s");
    bench.add_limit("reading_error", -10, 10, "%");
    CHECK_FALSE(bench.examine().raised("ripple"));
    // 105 ms: f T = 5.25, x = 0.25: 0.75/5.25 = 14.3 %; 2 f T = 10.5: 0.5/10.5 = 4.8 %.
    bench.qualification.product.integration_time = stated(0.105, "s");
    const auto found = bench.examine();
    REQUIRE(found.raised("ripple"));
    CHECK(found.of("ripple")[0].severity == RemarkSeverity::blocks);
    CHECK(found.of("ripple")[0].seen == "S1 bare led: light at 50 Hz may change a reading over 0.105 s by up "
                                        "to 14 %, and T/3 is 3.3 % at 10 lx");
    CHECK(found.reasons("reading_error")[0].starts_with("ripple: "));
    // A third of the tolerance just above the bound: 3 x 14.3 % = 42.9 %.
    bench.limits.limits[0].lower = -43;
    bench.limits.limits[0].upper = 43;
    for (const auto& remark : bench.examine().of("ripple"))
        CHECK(remark.severity != RemarkSeverity::blocks);
}

TEST_CASE("a waveform tells the ripple error that its supply could only bound", "[practice]")
{
    SmallBench bench;
    auto& source = bench.qualification.sources[0];
    source.supply = "mains";
    source.supply_frequency_hz = 50;
    bench.qualification.product.integration_time = stated(0.105, "s");
    bench.add_limit("reading_error", -10, 10, "%");
    // 20 % deep at 100 Hz: about 0.2 sinc(10.5), 0.61 %, where the supply alone bounds it to 14 %; T/3 is 3.3
    // %.
    std::vector<double> time, signal;
    for (int i = 0; i < 4000; ++i) {
        time.push_back(i * 1e-4);
        signal.push_back(1 + 0.2 * std::sin(2 * 3.14159265358979 * 100 * time.back()));
    }
    auto& run = bench.add_run(model::RunKind::waveform, "waveform", {{"time", time}, {"signal", signal}});
    run.source = source.id;
    for (const auto& remark : bench.examine().of("ripple"))
        CHECK(remark.severity != RemarkSeverity::blocks);
    bench.limits.limits[0].lower = -1.5;
    bench.limits.limits[0].upper = 1.5;
    const auto found = bench.examine().of("ripple");
    REQUIRE(!found.empty());
    CHECK(found[0].severity == RemarkSeverity::blocks);
    CHECK(found[0].advice == "integrate over whole periods of the light");
}

TEST_CASE("sampling at a multiple of the period is told as aliased", "[practice]")
{
    SmallBench bench;
    bench.qualification.sources[0].supply = "mains";
    bench.qualification.sources[0].supply_frequency_hz = 50;
    bench.qualification.product.integration_time = stated(0.105, "s");
    const auto found = bench.examine().of("ripple");  // one reading a second
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::concern);
    CHECK(found[0].effect.starts_with("aliased sampling"));
    for (double& time : bench.column("levels", "time"))
        time *= 1.0037;  // 100.37 periods
    CHECK_FALSE(bench.examine().raised("ripple"));
}
