#include "small_bench.hpp"

#include <functional>
#include <memory>

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;

// Rules: common practice, no source.

TEST_CASE("a named dark run of another meter blocks the levels near the dark as a missing one does",
          "[practice]")
{
    SmallBench bench;
    bench.add_levels("low", {0.1, 10}, 1.01);
    bench.qualification.meters[0].certificate->points.insert(
        bench.qualification.meters[0].certificate->points.begin(), {0.05, 1.0, 0.012, ""});
    CHECK_FALSE(bench.examine().raised("dark-of-another"));
    bench.run("dark").meter = "M2";  // the dark reads 0.002 lx: 0.2 lx and below are near it
    const auto found = bench.examine();
    CHECK_FALSE(found.raised("dark-missing"));
    REQUIRE(found.raised("dark-of-another"));
    bool blocks_low = false;
    for (const auto& remark : found.of("dark-of-another")) {
        CHECK(remark.seen.find("meter M2") != std::string::npos);
        if (remark.run == "low") {
            CHECK(remark.severity == RemarkSeverity::blocks);
            blocks_low = true;
        } else {
            CHECK(remark.severity == RemarkSeverity::concern);
        }
    }
    CHECK(blocks_low);
    for (const auto& result : found.evaluation.results) {
        if (result.metric != "reading_error")
            continue;
        const auto near_dark = result.id.find("level=0.1lx") != std::string::npos;
        CAPTURE(result.id, result.undecided);
        CHECK(result.undecided.starts_with("dark-of-another: ") == near_dark);
    }
}

TEST_CASE("a dark run of another unit, configuration or own light is told, whatever run names it",
          "[practice]")
{
    const auto told = [](const std::function<void(model::Run&)>& change) {
        SmallBench bench;
        bench.add_scan("scan", 80, 5).dark_run = "dark";
        for (auto& run : bench.qualification.runs)
            if (run.kind == model::RunKind::comparison || run.kind == model::RunKind::angular)
                run.conditions["own_light"] = std::string("off");
        change(bench.run("dark"));
        std::vector<std::string> seen;
        for (const auto& remark : bench.examine().of("dark-of-another"))
            seen.push_back(remark.seen);
        return seen;
    };
    CHECK(told([](model::Run&) {}).empty());
    CHECK(told([](model::Run& dark) { dark.conditions["own_light"] = std::string("off"); }).empty());
    // Nothing stated contradicts nothing: a zero of the meter alone names no sample.
    CHECK(told([](model::Run& dark) { dark.sample = dark.configuration = ""; }).empty());
    for (const auto& seen :
         {told([](model::Run& dark) { dark.sample = "S2"; }),
          told([](model::Run& dark) { dark.configuration = "windowed"; }),
          told([](model::Run& dark) { dark.conditions["own_light"] = std::string("on"); })}) {
        REQUIRE(seen.size() == 2);  // the comparison and the scan; position run and field map hold no product
        CHECK(seen[0].starts_with("S1 bare led: the dark run dark is of another: "));
    }
}

TEST_CASE("of several meters a dark run must state its own", "[practice]")
{
    SmallBench bench;
    bench.run("dark").meter.clear();
    CHECK_FALSE(bench.examine().raised("dark-of-another"));
    bench.qualification.meters.push_back(bench.qualification.meters[0]);
    bench.qualification.meters[1].id = "M2";
    CHECK(bench.examine().raised("dark-of-another"));
}

TEST_CASE("a dark run without readings of the meter is no zero of it", "[practice]")
{
    SmallBench bench;
    auto table = std::make_shared<model::Table>(*bench.run("dark").table);
    std::erase_if(table->numbers,
                  [](const model::NumberColumn& column) { return column.meaning == "meter"; });
    bench.run("dark").table = table;
    const auto found = bench.examine().of("dark-of-another");
    REQUIRE_FALSE(found.empty());
    CHECK(found[0].seen.find("no readings of the meter") != std::string::npos);
}

TEST_CASE("of a dark run that columns split, the part of the run's own meter and own light counts",
          "[practice]")
{
    SmallBench bench;
    bench.run("levels").conditions["own_light"] = std::string("off");
    auto other = bench.run("dark");
    other.conditions["own_light"] = std::string("on");
    bench.run("dark").conditions["own_light"] = std::string("off");
    // The part that fits stands behind one that does not.
    bench.qualification.runs.insert(bench.qualification.runs.begin(), other);
    CHECK_FALSE(bench.examine().raised("dark-of-another"));
    bench.qualification.runs.front().meter = "M2";
    CHECK_FALSE(bench.examine().raised("dark-of-another"));
}
