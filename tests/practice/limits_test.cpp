#include "small_bench.hpp"

#include <chrono>

#include "support/catch.hpp"

using namespace luxdossier;
using test::SmallBench;

TEST_CASE("a limit whose range reaches beyond what was read is noted", "[practice]")
{
    SmallBench bench;
    bench.add_limit("reading_error", -10, 10, "%");
    const auto over = [&](double from, double to) {
        bench.limits.limits[0].where = {{"level", {}, from, to}};
        return bench.examine().of("range-not-covered");
    };
    CHECK(over(10, 1000).empty());
    CHECK(over(50, 500).size() == 1);  // 100 lx alone is read in it
    REQUIRE(over(10, 2000).size() == 1);
    CHECK(over(10, 2000)[0].seen ==
          "limit L-1 speaks of level 10 to 2000 lx, S1 bare led was read over 10 to 1000 lx");
    CHECK(over(5, 1000).size() == 1);
    CHECK(over(100, 100).empty());
}

TEST_CASE("a mask that reaches beyond the scan is noted", "[practice]")
{
    SmallBench bench;
    bench.add_scan("scan", 80, 5);
    bench.add_limit("angular_response", 0, 0, "1");
    auto& limit = bench.limits.limits[0];
    limit.lower.reset();
    limit.upper.reset();
    limit.mask = model::Mask{"mask.csv", {-80, 0, 80}, {0, 0.9, 0}, {0.5, 1.1, 0.5}};
    CHECK_FALSE(bench.examine().raised("range-not-covered"));
    limit.mask->angle_degree = {-85, 0, 80};
    CHECK(bench.examine().raised("range-not-covered"));
}

TEST_CASE("limits agreed after the first reading are noted, on the day itself they are not", "[practice]")
{
    SmallBench bench;
    bench.limits.agreed_on = std::chrono::sys_days{std::chrono::year{2025} / 3 / 10};
    CHECK_FALSE(bench.examine().raised("limits-after-data"));
    bench.limits.agreed_on = std::chrono::sys_days{std::chrono::year{2025} / 3 / 11};
    const auto found = bench.examine().of("limits-after-data");
    REQUIRE(found.size() == 1);
    CHECK(found[0].seen ==
          "the limits were agreed on 2025-03-11, the first reading (run warm-up) is of 2025-03-10");
}
