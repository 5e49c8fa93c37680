#include "small_bench.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;

namespace {

/// The same levels behind a window, for one sample; `ratio` is what is left of the response.
void add_window(SmallBench& bench, const std::string& sample, double ratio, const std::string& source = "led")
{
    if (bench.qualification.configurations.size() == 1) {
        bench.qualification.configurations.push_back(bench.qualification.configurations[0]);
        bench.qualification.configurations.back().id = "windowed";
    }
    if (sample != "S1" || source != "led") {
        auto& bare = bench.add_levels("bare-" + sample + source, {10, 100, 1000}, 1.01);
        bare.sample = sample;
        bare.source = source;
    }
    auto& run = bench.add_levels("windowed-" + sample + source, {10, 100, 1000}, 1.01 * ratio);
    run.sample = sample;
    run.configuration = "windowed";
    run.source = source;
}

/// A near-infrared run: five rows with the emitter off, five on; the product moves by 100 lx.
void add_near_infrared(SmallBench& bench, double meter_moves_lx)
{
    std::vector<double> irradiance, sensor, meter;
    for (int index = 0; index < 10; ++index) {
        const bool on = index >= 5;
        irradiance.push_back(on ? 10.0 : 0.0);
        sensor.push_back(on ? 150.0 : 50.0);
        meter.push_back(50.0 + (on ? meter_moves_lx : 0.0));
    }
    auto& run = bench.add_run(model::RunKind::near_infrared, "nir",
                              {{"irradiance", irradiance}, {"sensor", sensor}, {"meter", meter}});
    run.sample = "S1";
    run.configuration = "bare";
}

}  // namespace

TEST_CASE("ten samples are enough for a tolerance interval, nine are not", "[practice]")
{
    SmallBench bench;
    const auto add = [&bench](int sample) {
        const auto id = "S" + std::to_string(sample);
        bench.add_levels(id, {10, 100, 1000}, 1.0 + 0.001 * sample).sample = id;
    };
    for (int sample = 2; sample <= 9; ++sample)
        add(sample);
    CHECK(bench.examine().of("few-samples").at(0).seen ==
          "9 samples were measured, fewer than the 10 that a tolerance interval asks for");
    add(10);
    CHECK_FALSE(bench.examine().raised("few-samples"));
}

TEST_CASE("one sample is too few for a word about the fleet", "[practice]")
{
    SmallBench bench;
    CHECK(bench.examine().of("few-samples").at(0).seen == "1 sample was measured, fewer than 5");
}

TEST_CASE("a meter that moves under near-infrared by more than 0.2 % is told", "[practice]")
{
    SmallBench below, above;
    add_near_infrared(below, 0.19);
    add_near_infrared(above, 0.21);
    CHECK_FALSE(below.examine().raised("near-infrared-leak"));
    CHECK(above.examine().of("near-infrared-leak").at(0).severity == RemarkSeverity::blocks);
}

TEST_CASE("a source rich in near-infrared without a near-infrared run is noted", "[practice]")
{
    SmallBench bench;
    CHECK_FALSE(bench.examine().raised("near-infrared-leak"));
    bench.qualification.sources[0].kind = model::SourceKind::incandescent;
    CHECK(bench.examine().of("near-infrared-leak").at(0).severity == RemarkSeverity::note);
}

TEST_CASE("windows that differ by more than 3 u between units are noted", "[practice]")
{
    SmallBench alike, apart;
    for (auto* bench : {&alike, &apart}) {
        add_window(*bench, "S1", 0.15);
        add_window(*bench, "S2", bench == &alike ? 0.1501 : 0.1530);
    }
    CHECK_FALSE(alike.examine().raised("window-differs"));
    CHECK(apart.examine().raised("window-differs"));
}

TEST_CASE("a window that differs by more than 2 % between sources is noted", "[practice]")
{
    const auto other = [](double ratio) {
        SmallBench bench;
        bench.qualification.sources.push_back(bench.qualification.sources[0]);
        bench.qualification.sources.back().id = "lamp";
        add_window(bench, "S1", 0.15);
        add_window(bench, "S1", ratio, "lamp");
        return bench.examine().of("window-differs");
    };
    CHECK(other(0.15 * 1.019).empty());
    REQUIRE(other(0.15 * 1.021).size() == 1);
    CHECK(other(0.15 * 1.021)[0].seen == "S1 windowed: the ratio differs by 2.1 % between sources");
}
