#include "practice/practice.hpp"

#include "practice/rules.hpp"

#include "small_bench.hpp"

#include <algorithm>

#include "support/catch.hpp"

using namespace luxdossier;
using test::SmallBench;

namespace {

std::string told(const practice::Findings& findings)
{
    std::string text;
    for (const auto& remark : findings.remarks)
        text +=
            remark.id + " [" + std::string(model::severity_text(remark.severity)) + "] " + remark.seen + "\n";
    return text;
}

}  // namespace

TEST_CASE("a sound bench raises no remark but that one sample was measured", "[practice]")
{
    const auto found = SmallBench().examine();
    CAPTURE(told(found.findings));
    REQUIRE(found.findings.remarks.size() == 1);
    CHECK(found.findings.remarks[0].id == "few-samples");
    for (const auto& result : found.evaluation.results) {
        CAPTURE(result.id, result.undecided);
        CHECK(result.undecided.empty());
    }
}

TEST_CASE("every remark has a place in the table, and none has two", "[practice]")
{
    std::vector<std::string_view> ids;
    for (const auto& rule : practice::rules())
        ids.push_back(rule.id);
    std::ranges::sort(ids);
    CHECK(std::ranges::adjacent_find(ids) == ids.end());
}

TEST_CASE("without limits the rules that need them are listed as not applied", "[practice]")
{
    SmallBench bench;
    CHECK(bench.examine().findings.rules_not_applied.empty());
    bench.with_limits = false;
    CHECK(bench.examine().findings.rules_not_applied ==
          std::vector<std::string>{"ambient-light", "own-light", "ripple", "coarse-resolution",
                                   "range-not-covered", "limits-after-data"});
}

TEST_CASE("remarks stand in the order of the table", "[practice]")
{
    SmallBench bench;
    bench.run("levels").position_runs.clear();
    bench.run("levels").dark_run.clear();
    bench.remove_run("map");
    bench.qualification.meters[0].linearity.reset();
    const auto found = bench.examine();
    std::vector<std::string> ids;
    for (const auto& remark : found.findings.remarks)
        ids.push_back(remark.id);
    CAPTURE(told(found.findings));
    const auto place = [&](const std::string& id) { return std::ranges::find(ids, id) - ids.begin(); };
    CHECK(place("dark-missing") < place("not-co-located"));
    CHECK(place("not-co-located") < place("uneven-field"));
    CHECK(place("uneven-field") < place("left-out"));
    CHECK(place("left-out") < place("few-samples"));
    CHECK(place("few-samples") + 1 == static_cast<long>(ids.size()));
}

TEST_CASE("a blocking remark makes what it touches not decided, unless it is accepted with a reason",
          "[practice]")
{
    SmallBench bench;
    bench.run("levels").position_runs.clear();
    auto found = bench.examine();
    for (const auto& reason : found.reasons("reading_error"))
        CHECK(reason ==
              "not-co-located: S1 bare led: meter and product stood side by side, and no position run tells "
              "how the places differ");
    CHECK(found.reasons("dark_reading") == std::vector<std::string>{""});

    bench.qualification.accepted_remarks.push_back(
        {"not-co-located", "the places are the same within 0.1 mm", "levels"});
    found = bench.examine();
    CHECK(found.reasons("reading_error") == std::vector<std::string>{"", "", ""});
    REQUIRE(found.of("not-co-located").size() == 1);
    CHECK(found.of("not-co-located")[0].accepted == "the places are the same within 0.1 mm");

    bench.qualification.accepted_remarks[0].run = "another-run";
    CHECK_FALSE(bench.examine().reasons("reading_error")[0].empty());
}

TEST_CASE("what the evaluation left out blocks what depends on it, unless it is accepted", "[practice]")
{
    SmallBench bench;
    bench.qualification.meters[0].linearity.reset();
    auto found = bench.examine();
    REQUIRE(found.raised("left-out"));
    CHECK(found.reasons("reading_error")[0].starts_with("left-out: "));
    CHECK(found.reasons("dark_reading") == std::vector<std::string>{""});
    bench.qualification.accepted_remarks.push_back({"left-out", "the meter is linear by its type test", ""});
    found = bench.examine();
    CHECK(found.reasons("reading_error")[0].empty());
}

TEST_CASE("notes that say the same of several runs are told once, with the runs", "[practice]")
{
    SmallBench bench;
    for (const char* id : {"two", "three", "four", "five"})
        bench.add_levels(id, {10, 100, 1000}, 1.0, 9);
    const auto found = bench.examine();
    REQUIRE(found.of("few-readings").size() == 1);
    const auto remark = found.of("few-readings")[0];
    CHECK(remark.run.empty());
    CHECK(remark.seen.find("the fewest 9") != std::string::npos);
    CHECK(remark.seen.find("(run two)") != std::string::npos);
    CHECK(remark.seen.find("(run five)") == std::string::npos);
    CHECK(remark.seen.find(" and 1 more: ") != std::string::npos);
    // Of the four runs: nine results a level and run at least, each once.
    auto results = remark.results;
    const auto repeated = std::ranges::unique(results);
    CHECK(repeated.empty());
    CHECK(results.size() >= 4 * 3 * 3);
}

TEST_CASE("blocking remarks stay one a run, so that each can be accepted by itself", "[practice]")
{
    SmallBench bench;
    bench.add_levels("two", {10, 100, 1000}, 1.0).position_runs.clear();
    bench.run("levels").position_runs.clear();
    bench.qualification.accepted_remarks.push_back({"not-co-located", "same place", "two"});
    const auto found = bench.examine();
    REQUIRE(found.of("not-co-located").size() == 2);
    CHECK(found.of("not-co-located")[0].accepted.empty() != found.of("not-co-located")[1].accepted.empty());
}
