#include "small_bench.hpp"

#include <chrono>

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;

// ISO/IEC 17025:2017, 6.4.4 to 6.4.10 (equipment), 6.3 and 7.8.3.1 a (conditions of the room).

namespace {

model::Date day(unsigned number)
{
    return std::chrono::sys_days{std::chrono::year{2025} / 3 / static_cast<int>(number)};
}

model::Equipment thermometer(unsigned recall_day)
{
    model::Equipment item;
    item.id = "thermometer";
    item.description = "resistance thermometer";
    item.recall = day(recall_day);
    return item;
}

}  // namespace

TEST_CASE("equipment out of recall blocks the results of the runs that name it, unless accepted",
          "[practice]")
{
    SmallBench bench;
    bench.add_levels("chamber", {20, 200, 2000}, 1.0).thermometer = "thermometer";
    bench.qualification.equipment.push_back(thermometer(11));
    CHECK_FALSE(bench.examine().raised("out-of-recall"));  // the day itself serves
    bench.qualification.equipment[0].recall = day(10);
    auto found = bench.examine();
    REQUIRE(found.of("out-of-recall").size() == 1);
    CHECK(found.of("out-of-recall")[0].severity == RemarkSeverity::blocks);
    CHECK(found.of("out-of-recall")[0].run == "chamber");
    for (const auto& result : found.evaluation.results) {
        if (result.metric != "reading_error")
            continue;
        CAPTURE(result.id);
        const auto of_chamber = result.id.find("level=20") != std::string::npos;
        CHECK(result.undecided.starts_with("out-of-recall: ") == of_chamber);
    }
    bench.qualification.accepted_remarks.push_back({"out-of-recall", "checked against ice, no change", ""});
    for (const auto& reason : bench.examine().reasons("reading_error"))
        CHECK(reason.empty());
}

TEST_CASE("equipment that no run names may stand behind every result", "[practice]")
{
    SmallBench bench;
    bench.qualification.equipment.push_back(thermometer(10));
    bench.qualification.equipment[0].id = "stage";
    const auto found = bench.examine();
    REQUIRE(found.of("out-of-recall").size() == 1);
    CHECK(found.reasons("reading_error")[0].starts_with("out-of-recall: "));
}

TEST_CASE("a recall beside runs of no date is not taken as kept", "[practice]")
{
    SmallBench bench;
    bench.qualification.equipment.push_back(thermometer(20));
    for (auto& run : bench.qualification.runs)
        run.started.reset();
    auto found = bench.examine();
    REQUIRE(found.of("out-of-recall").size() == 1);
    CHECK(found.of("out-of-recall")[0].severity == RemarkSeverity::concern);
    CHECK(found.of("certificate-recall-passed").at(0).severity == RemarkSeverity::concern);
    bench.qualification.document.tested_from = day(1);
    CHECK_FALSE(bench.examine().raised("out-of-recall"));
    bench.qualification.document.tested_to = day(21);  // the run may be of the last day
    CHECK(bench.examine().of("out-of-recall").at(0).severity == RemarkSeverity::blocks);
}

TEST_CASE("a room that is not stated, or was not within its limits, is told", "[practice]")
{
    SmallBench bench;
    auto& environment = bench.qualification.document.environment;
    CHECK_FALSE(bench.examine().raised("environment-missing"));
    environment.humidity.stated.reset();
    auto found = bench.examine().of("environment-missing");
    REQUIRE(found.size() == 1);
    CHECK(found[0].severity == RemarkSeverity::note);
    CHECK(found[0].seen == "the relative humidity of the room is not stated");
    environment.humidity.stated = test::stated(0.45, "1");
    environment.temperature.from = 295.15;
    environment.temperature.to = 297.15;
    environment.temperature.stated = test::stated(296.15, "K");
    CHECK_FALSE(bench.examine().raised("environment-missing"));
    environment.temperature.stated->half_width = 1.5;  // 21.5 to 24.5, limits 22 to 24
    CHECK(bench.examine().of("environment-missing").at(0).severity == RemarkSeverity::note);
    environment.temperature.stated->value = 298.15;
    found = bench.examine().of("environment-missing");
    CHECK(found.at(0).severity == RemarkSeverity::concern);
    CHECK(found[0].seen ==
          "the temperature of the room was 25 degrees Celsius, its limits are 22 degrees Celsius to "
          "24 degrees Celsius");
}
