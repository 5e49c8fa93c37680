#include "small_bench.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;
using test::stated;

TEST_CASE("a position run of another distance or source does not serve", "[practice]")
{
    SmallBench bench;
    const auto at_distance = [&](double metre) {
        bench.run("levels").conditions["distance"] = model::ConditionQuantity{metre, "m"};
        return bench.examine().of("not-co-located");
    };
    CHECK(at_distance(1.009).empty());
    REQUIRE(at_distance(1.011).size() == 1);
    CHECK(at_distance(1.011)[0].severity == RemarkSeverity::blocks);
    CHECK(at_distance(1.011)[0].seen.ends_with("the position run position was at 1 m, this one at 1.011 m"));
    CHECK(at_distance(1.0).empty());
    bench.run("position").source = "lamp";
    CHECK(bench.examine()
              .of("not-co-located")
              .at(0)
              .seen.ends_with("the position run position has source lamp"));
}

TEST_CASE("a position factor from another configuration is a note", "[practice]")
{
    SmallBench bench;
    bench.run("position").configuration = "windowed";
    const auto found = bench.examine();
    REQUIRE(found.of("not-co-located").size() == 1);
    CHECK(found.of("not-co-located")[0].severity == RemarkSeverity::note);
    CHECK(found.reasons("reading_error")[0].empty());
}

TEST_CASE("a position run that a substitution names is told not to be used", "[practice]")
{
    SmallBench bench;
    bench.run("levels").method = model::Method::substitution;
    const auto found = bench.examine().of("not-co-located");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::note);
    CHECK(found[0].seen.find("the position run position is not used") != std::string::npos);
    bench.run("levels").position_runs.clear();
    CHECK_FALSE(bench.examine().raised("not-co-located"));
}

TEST_CASE("a field is uneven above 1 %, or unknown without a map", "[practice]")
{
    // 100 (1 - 80 r^2) at r = 4 mm is 0.128 % below the centre; eight times that is 1.02 %.
    const auto steeper = [](double factor) {
        SmallBench bench;
        for (double& value : bench.column("map", "meter"))
            if (value < 99.95)
                value = 100.0 - factor * 0.128;
        return bench.examine().of("uneven-field");
    };
    CHECK(steeper(7.0).empty());
    REQUIRE(steeper(8.5).size() == 1);
    CHECK(steeper(8.5)[0].severity == RemarkSeverity::concern);
    SmallBench without;
    without.remove_run("map");
    REQUIRE(without.examine().of("uneven-field").size() == 1);
    CHECK(without.examine().of("uneven-field")[0].seen == "no field map of source led");
}

TEST_CASE("five sizes of the source are near enough, less is too near", "[practice]")
{
    SmallBench bench;
    bench.qualification.geometry.source_diameter = stated(0.2, "m");
    CHECK_FALSE(bench.examine().raised("too-near"));
    bench.qualification.geometry.source_diameter = stated(0.201, "m");
    const auto found = bench.examine().of("too-near");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::concern);
    // Closed form of a disc: (r/d)^2 = 1 % at five sizes.
    CHECK(found[0].effect.starts_with("levels computed by the inverse square are off by about 1 %"));
}
