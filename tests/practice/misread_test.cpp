#include "small_bench.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;

// Rules: common practice, no source.

namespace {

void scale(SmallBench& bench, const std::string& column, double factor)
{
    for (double& value : bench.column("levels", column))
        value *= factor;
}

}  // namespace

TEST_CASE("a mean far from its nominal level is told from 20 % and blocks from a factor of 2", "[practice]")
{
    const auto found_at = [](double factor) {
        SmallBench bench;
        scale(bench, "meter", factor);
        scale(bench, "sensor", factor);
        return bench.examine();
    };
    // E is 1.00 times the nominal level before it is scaled; the meter stands where it reads 1 % more.
    CHECK_FALSE(found_at(1.17).raised("nominal-differs"));
    CHECK_FALSE(found_at(0.82).raised("nominal-differs"));
    for (const double factor : {0.75, 1.3, 1.9}) {
        const auto found = found_at(factor);
        REQUIRE(found.of("nominal-differs").size() == 1);
        CHECK(found.of("nominal-differs")[0].severity == RemarkSeverity::concern);
        CHECK(found.reasons("reading_error")[0].empty());
    }
    for (const double factor : {0.45, 2.1, 0.001, 1000.0}) {
        const auto found = found_at(factor);
        REQUIRE(found.of("nominal-differs").size() == 1);
        CHECK(found.of("nominal-differs")[0].severity == RemarkSeverity::blocks);
        CHECK_FALSE(
            found.reasons("reading_error")[0].empty());  // beyond the calibrated span there are two reasons
        const auto asks =
            found.of("nominal-differs")[0].seen.find("a mark of thousands or a unit?") != std::string::npos;
        CHECK(asks == (factor < 0.01 || factor > 100));
    }
}

TEST_CASE("only the level that differs is blocked", "[practice]")
{
    SmallBench bench;
    auto& meter = bench.column("levels", "meter");
    for (std::size_t row = 20; row < 30; ++row)  // the level of 1000 lx: "1,012" read as 1.012
        meter[row] /= 1000;
    const auto found = bench.examine();
    REQUIRE(found.of("nominal-differs").size() == 1);
    CHECK(found.of("nominal-differs")[0].seen.find("1000 lx (1 of 3 levels)") != std::string::npos);
    const auto reasons = found.reasons("reading_error");
    CHECK(reasons[0].empty());
    CHECK(reasons[1].empty());
    CHECK(reasons[2].starts_with("nominal-differs: "));
}

TEST_CASE("a meter that stands where another illuminance is does not differ from the level at the sensor",
          "[practice]")
{
    SmallBench bench;
    scale(bench, "meter", 1 / 0.7);
    auto& at = bench.column("position", "meter");
    for (std::size_t row = 10; row < 20; ++row)  // at the sensor
        at[row] *= 0.7;
    CHECK_FALSE(bench.examine().raised("nominal-differs"));
}

TEST_CASE("a product that reads a thousandth of the illuminance may have been misread", "[practice]")
{
    SmallBench bench;
    scale(bench, "sensor", 0.001);
    const auto found = bench.examine().of("nominal-differs");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::concern);
}

TEST_CASE("parts with more than 5 % of rows over are told; joined by their number they block", "[practice]")
{
    SmallBench bench;
    auto& files = bench.run("levels").files;
    files.resize(2);
    files[0] = {"product.csv", 5, 95, 0, "rows of this file are kept", {}};
    files[1] = {"meter.csv", 0, 95, 0.4, "by time within 1 s (stated)", {}};
    CHECK_FALSE(bench.examine().raised("join-doubtful"));
    bench.run("levels").files[0].unmatched_rows = 6;
    auto found = bench.examine();
    REQUIRE(found.of("join-doubtful").size() == 1);
    CHECK(found.of("join-doubtful")[0].severity == RemarkSeverity::concern);
    CHECK(
        found.of("join-doubtful")[0].seen ==
        "6 of 101 rows of product.csv, 0 of 95 rows of meter.csv found no partner; the largest difference in "
        "time is 0.4 s");
    CHECK(found.reasons("reading_error")[0].empty());
    bench.run("levels").files[1].join = "by row";
    found = bench.examine();
    CHECK(found.of("join-doubtful").at(0).severity == RemarkSeverity::blocks);
    CHECK(found.reasons("reading_error")[0].starts_with("join-doubtful: "));
}

TEST_CASE("lines among the readings that begin with # are told with file and line", "[practice]")
{
    SmallBench bench;
    bench.run("levels").files.resize(1);
    bench.run("levels").files[0].file = "levels.csv";
    CHECK_FALSE(bench.examine().raised("comment-row"));
    bench.run("levels").files[0].comment_lines = {14, 19};
    const auto found = bench.examine().of("comment-row");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::concern);
    CHECK(found[0].seen == "levels.csv:14: a line that begins with # among the readings (also 19)");
}
