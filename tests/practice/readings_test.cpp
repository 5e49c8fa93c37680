#include "small_bench.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;
using test::stated;

namespace {

/// Moves the sensor readings of the first level by a line from 0 to `change`, in lx.
SmallBench sloping(double change_lx)
{
    SmallBench bench;
    auto& sensor = bench.column("levels", "sensor");
    for (std::size_t index = 0; index < 10; ++index)
        sensor[index] += change_lx * static_cast<double>(index) / 9.0;
    return bench;
}

}  // namespace

TEST_CASE("a slope is a trend where it is significant at 1 %", "[practice]")
{
    // scipy.stats.linregress on the ten readings: p = 0.0165 for 0.060 lx and 0.0070 for 0.070 lx.
    CHECK_FALSE(sloping(0.060).examine().raised("trend"));
    const auto found = sloping(0.070).examine().of("trend");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::note);
    CHECK(found[0].seen.starts_with(
        "S1 bare led: 1 of 6 sets of readings have a significant slope, most the sensor at 10 lx"));
}

TEST_CASE("first and last third of a level that differ by more than 2 u are told", "[practice]")
{
    const auto step = [](double change_lx) {
        SmallBench bench;
        auto& sensor = bench.column("levels", "sensor");
        for (std::size_t index = 7; index < 10; ++index)  // the last third of ten readings is three
            sensor[index] += change_lx;
        return bench.examine();
    };
    // In u of the change, by numpy: 1.87 and 2.03.
    CHECK_FALSE(step(0.050).raised("not-settled"));
    CHECK(step(0.060).of("not-settled").size() == 1);
}

TEST_CASE("fewer than ten readings are told", "[practice]")
{
    SmallBench bench;
    CHECK_FALSE(bench.examine().raised("few-readings"));
    bench.add_levels("nine", {10, 100, 1000}, 1.0, 9);
    const auto found = bench.examine().of("few-readings");
    REQUIRE(found.size() == 1);
    CHECK(found[0].seen.starts_with("S1 bare led: 6 of 6 sets have fewer than 10 readings, the fewest 9"));
}

TEST_CASE("readings that are alike over all levels are told where no level shows it", "[practice]")
{
    // Three levels of nine readings of noise whose neighbours correlate by 0.6, from NumPy; the meter reads
    // steadily. r1 of each level alone is below Anderson's bound, and fewer than ten readings are not
    // examined at all.
    const auto bench_with = [](const std::vector<double>& noise) {
        SmallBench bench;
        bench.remove_run("levels");
        bench.add_levels("nine", {10, 100, 1000}, 1.0, 9);
        auto& sensor = bench.column("nine", "sensor");
        for (std::size_t i = 0; i < sensor.size(); ++i)
            sensor[i] = std::round(sensor[i]) * (1 + 0.02 * noise[i]);
        return bench;
    };
    const std::vector<double> alike{0.10, 0.85,  0.98, 0.35,  0.40,  -0.30, -0.75, -0.90, -0.20,
                                    -0.8, -0.35, 0.05, 0.60,  0.95,  0.70,  0.10,  -0.45, -0.60,
                                    0.55, 0.90,  0.60, -0.05, -0.50, -0.95, -0.70, -0.10, 0.30};
    std::vector<double> shuffled;
    for (std::size_t i = 0; i < alike.size(); ++i)  // the same readings, neighbours far apart
        shuffled.push_back(alike[9 * (i / 9) + (4 * (i % 9)) % 9]);
    const auto found = bench_with(alike).examine().of("alike-neighbours");
    REQUIRE(found.size() == 1);
    CHECK(found[0].seen.starts_with(
        "sensor of S1, read about 1 s apart: neighbouring readings are alike (r = "));
    CHECK(found[0].seen.find("from 27 readings in 3 sets), which 3 sets do not show by themselves: u of "
                             "their means is up to ") != std::string::npos);
    CHECK(found[0].effect == "u and degrees of freedom of these means take it into account");
    CHECK(found[0].severity == RemarkSeverity::note);
    CHECK_FALSE(found[0].results.empty());
    CHECK_FALSE(bench_with(shuffled).examine().raised("alike-neighbours"));
}

TEST_CASE("three consecutive readings at the ceiling block the level, two do not", "[practice]")
{
    SmallBench bench;
    bench.qualification.product.ceiling = stated(1020.0, "lx");
    auto& sensor = bench.column("levels", "sensor");
    sensor[22] = sensor[23] = 1020.0;
    sensor[25] = 1020.0;
    CHECK_FALSE(bench.examine().raised("saturated"));
    bench.column("levels", "sensor")[24] = 1020.0;
    const auto found = bench.examine();
    REQUIRE(found.raised("saturated"));
    CHECK(found.of("saturated")[0].seen ==
          "S1 bare led: three consecutive readings at the ceiling of 1020 lx, the third in data row 25");
    CHECK(found.reasons("reading_error")[1].empty());
    CHECK(found.reasons("reading_error")[2].starts_with("saturated: "));
}

TEST_CASE("a step counts against scatter and tolerance", "[practice]")
{
    // s of the product at 10 lx is 0.0169 lx (2 sets of the run have resolution 0.001 lx, far below).
    SmallBench bench;
    bench.qualification.product.resolution = stated(0.030, "lx");
    CHECK_FALSE(bench.examine().raised("coarse-resolution"));
    bench.qualification.product.resolution = stated(0.036, "lx");
    CHECK(bench.examine().of("coarse-resolution").at(0).severity == RemarkSeverity::note);
    // T = 0.12 lx at 10 lx: a fifth is 0.024 lx.
    bench.qualification.product.resolution = stated(0.023, "lx");
    bench.add_limit("reading_error", -1.2, 1.2, "%");
    CHECK_FALSE(bench.examine().raised("coarse-resolution"));
    bench.qualification.product.resolution = stated(0.025, "lx");
    CHECK(bench.examine().of("coarse-resolution").at(0).severity == RemarkSeverity::note);
    bench.qualification.product.resolution = stated(0.13, "lx");
    const auto found = bench.examine();
    CHECK(found.of("coarse-resolution").at(0).severity == RemarkSeverity::blocks);
    CHECK(found.reasons("reading_error")[0].starts_with("coarse-resolution: "));
    CHECK(found.reasons("reading_error")[1].empty());
}

TEST_CASE("stragglers are notes, outliers concerns, neither is dropped", "[practice]")
{
    const auto with_reading = [](double lx) {
        SmallBench bench;
        bench.column("levels", "sensor")[4] = lx;
        return bench.examine();
    };
    // Ten readings: Grubbs 2.290 at 5 %, 2.482 at 1 %. By numpy G is 2.24, 2.36 and 2.57 for the three
    // readings.
    CHECK_FALSE(with_reading(10.16).raised("outlier"));
    const auto straggler = with_reading(10.17).of("outlier");
    REQUIRE(straggler.size() == 1);
    CHECK(straggler[0].severity == RemarkSeverity::note);
    const auto found = with_reading(10.20);
    REQUIRE(found.of("outlier").size() == 1);
    CHECK(found.of("outlier")[0].severity == RemarkSeverity::concern);
    CHECK(found.of("outlier")[0].seen.starts_with(
        "S1 bare led: sensor at 10 lx, data row 5: 10.2 lx, G = 2.57 above 2.48"));
    CHECK(found.reasons("reading_error")[0].empty());
}
