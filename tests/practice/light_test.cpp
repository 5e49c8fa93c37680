#include "small_bench.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;

namespace {

/// A run with the source blocked, in which the meter reads `ambient_lx` and nothing else.
void add_blocked_run(SmallBench& bench, double ambient_lx)
{
    std::vector<double> meter;
    for (int index = 0; index < 10; ++index)
        meter.push_back(ambient_lx);
    auto& run = bench.add_run(model::RunKind::dark, "blocked", {{"meter", meter}});
    run.conditions["light"] = std::string("blocked");
}

void add_own_light_runs(SmallBench& bench, double difference_lx)
{
    for (const std::string state : {"on", "off"}) {
        std::vector<double> sensor(10, 0.010 + (state == "on" ? difference_lx : 0.0));
        auto& run = bench.add_run(model::RunKind::dark, "capped-" + state, {{"sensor", sensor}});
        run.sample = "S1";
        run.configuration = "bare";
        run.conditions["light"] = std::string("capped");
        run.conditions["own_light"] = state;
    }
    bench.qualification.product.own_light = true;
    bench.run("levels").conditions["own_light"] = std::string("on");
}

}  // namespace

TEST_CASE("ambient light is told above 0.2 % of the illuminance", "[practice]")
{
    SmallBench below, above;
    add_blocked_run(below, 0.019);  // 0.19 % of 10 lx
    add_blocked_run(above, 0.021);
    CHECK_FALSE(below.examine().raised("ambient-light"));
    const auto found = above.examine().of("ambient-light");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::concern);
    CHECK(found[0].seen == "S1 bare led: ambient light of 0.021 lx (run blocked) is 0.21 % of E at 10 lx");
}

TEST_CASE("ambient light above a third of the tolerance blocks the level", "[practice]")
{
    // +-0.62 % of 10 lx is 0.062 lx: a third is 0.0207 lx.
    SmallBench below, above;
    for (auto* bench : {&below, &above})
        bench->add_limit("reading_error", -0.62, 0.62, "%");
    add_blocked_run(below, 0.0205);
    add_blocked_run(above, 0.0210);
    CHECK(below.examine().of("ambient-light").at(0).severity == RemarkSeverity::concern);
    const auto found = above.examine();
    REQUIRE(found.of("ambient-light").at(0).severity == RemarkSeverity::blocks);
    const auto reasons = found.reasons("reading_error");
    CHECK(reasons[0].starts_with("ambient-light: "));
    CHECK(reasons[1].empty());
}

TEST_CASE("a reading of zero bounds the ambient light by half a step", "[practice]")
{
    SmallBench bench;
    bench.qualification.meters[0].resolution_lx = 0.05;
    add_blocked_run(bench, 0.0);
    const auto found = bench.examine().of("ambient-light");
    REQUIRE(found.size() == 1);
    CHECK(found[0].seen == "S1 bare led: ambient light below 0.025 lx (run blocked) is 0.25 % of E at 10 lx");
    bench.qualification.meters[0].resolution_lx = 0.038;
    CHECK_FALSE(bench.examine().raised("ambient-light"));
}

TEST_CASE("own light counts where it is on and changes the dark reading by more than 0.2 %", "[practice]")
{
    SmallBench below, above, off;
    add_own_light_runs(below, 0.019);
    add_own_light_runs(above, 0.021);
    add_own_light_runs(off, 0.5);
    off.run("levels").conditions["own_light"] = std::string("off");
    CHECK_FALSE(below.examine().raised("own-light"));
    CHECK(above.examine().of("own-light").at(0).severity == RemarkSeverity::concern);
    CHECK_FALSE(off.examine().raised("own-light"));
    above.add_limit("reading_difference", -0.06, 0.06, "lx");
    CHECK(above.examine().of("own-light").at(0).severity == RemarkSeverity::blocks);
}

TEST_CASE("a product with own light whose state is not given is noted", "[practice]")
{
    SmallBench bench;
    bench.qualification.product.own_light = true;
    const auto found = bench.examine().of("own-light");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::note);
    bench.qualification.product.own_light = false;
    CHECK_FALSE(bench.examine().raised("own-light"));
}

TEST_CASE("missing dark readings block the levels near the dark only", "[practice]")
{
    SmallBench bench;
    bench.run("levels").dark_run.clear();
    bench.qualification.meters[0].resolution_lx = 0.101;  // 100 steps are 10.1 lx, above the lowest level
    auto found = bench.examine();
    REQUIRE(found.of("dark-missing").at(0).severity == RemarkSeverity::blocks);
    CHECK(found.reasons("reading_error")[0].starts_with("dark-missing: "));
    CHECK(found.reasons("reading_error")[1].empty());
    bench.qualification.meters[0].resolution_lx = 0.099;
    found = bench.examine();
    CHECK(found.of("dark-missing").at(0).severity == RemarkSeverity::concern);
    CHECK(found.reasons("reading_error")[0].empty());
    bench.run("levels").dark_run = "dark";
    CHECK_FALSE(bench.examine().raised("dark-missing"));
}

TEST_CASE("a dark reading that moved by more than 2 u is told", "[practice]")
{
    const auto moved_by = [](double change_lx) {
        SmallBench bench;
        auto sensor = bench.column("dark", "sensor");
        for (double& value : sensor)
            value += change_lx;
        auto& after = bench.add_run(model::RunKind::dark, "dark-after", {{"sensor", sensor}});
        after.sample = "S1";
        after.configuration = "bare";
        after.conditions["light"] = std::string("capped");
        return bench.examine().of("dark-moved");
    };
    // s = 0.00168 lx, q = 0.001 lx: u = 0.000605 lx of one mean, 2 u of the difference 0.00171 lx.
    CHECK(moved_by(0.0016).empty());
    REQUIRE(moved_by(0.0018).size() == 1);
    CHECK(moved_by(0.0018)[0].severity == RemarkSeverity::concern);
    CHECK(moved_by(0.15)[0].severity ==
          RemarkSeverity::blocks);  // 100 times the dark lies above the lowest level
}
