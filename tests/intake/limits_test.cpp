#include "intake/intake.hpp"

#include "memory_files.hpp"
#include "support/catalogue.hpp"

#include <nlohmann/json.hpp>

#include "support/catch.hpp"

using namespace luxdossier;
using nlohmann::json;

namespace {

model::Qualification two_levels()
{
    model::Qualification qualification;
    qualification.samples = {{"S1", "", "", "", ""}, {"S2", "", "", "", ""}};
    qualification.sources = {{}};
    qualification.sources[0].id = "led";
    qualification.corrections = {{"window", "", false, false, false, {}, {}}};
    model::Run run;
    run.sample = "S1";
    run.source = "led";
    run.conditions["temperature"] = model::ConditionQuantity{313.15, "K"};
    run.conditions["operator"] = std::string("night shift");
    auto table = std::make_shared<model::Table>();
    table->rows = 2;
    table->numbers.push_back({"level", "nominal", "lx", "lx", {10, 100}});
    run.table = table;
    run.rows = {0, 1};
    qualification.runs.push_back(run);
    return qualification;
}

json file_of(const json& limit)
{
    return {{"format", "luxdossier/limits/1"},
            {"decision_rule", {{"kind", "simple-acceptance"}}},
            {"limits", {limit}}};
}

struct Read {
    std::optional<model::Limits> limits;
    std::vector<model::InputFile> files;
    std::string messages;
};

Read read(const json& file, const test::MemoryFiles& files = {})
{
    Read read;
    diagnostics::Diagnostics found;
    const auto qualification = two_levels();
    read.limits = intake::read_limits("limits.json", file.dump(), files, qualification, test::catalogue(),
                                      read.files, found);
    read.messages = test::all_messages(found);
    return read;
}

model::Limit only(const Read& read)
{
    CHECK(read.messages == "");
    REQUIRE(read.limits);
    REQUIRE(read.limits->limits.size() == 1);
    return read.limits->limits.front();
}

}  // namespace

TEST_CASE("bounds stay as written and know their way to the record unit", "[intake][limits]")
{
    const auto minutes =
        only(read(file_of({{"id", "L-1"}, {"metric", "warm_up_time"}, {"upper", 20}, {"unit", "min"}})));
    CHECK(*minutes.upper == 20);
    CHECK_FALSE(minutes.lower);
    CHECK(minutes.unit == "min");
    CHECK(minutes.unit_scale == 60);
    CHECK(minutes.unit_offset == 0);
    const auto ratio = only(
        read(file_of({{"id", "L-1"}, {"metric", "window_response_ratio"}, {"lower", 60}, {"unit", "%"}})));
    CHECK(ratio.unit_scale == 0.01);
    const auto percent =
        only(read(file_of({{"id", "L-1"}, {"metric", "reading_error"}, {"lower", -0.1}, {"unit", "1"}})));
    CHECK(test::agree(percent.unit_scale, 100, 1e-15));
}

TEST_CASE("selections are ids, lists, numbers and ranges in record units", "[intake][limits]")
{
    const auto limit = only(read(file_of({{"id", "L-1"},
                                          {"metric", "reading_error"},
                                          {"where",
                                           {{"sample", {"S1", "S2"}},
                                            {"source", "led"},
                                            {"level", {{"from", 0.1}, {"to", 1}, {"unit", "klx"}}},
                                            {"temperature", {{"value", 40}, {"unit", "degC"}}},
                                            {"operator", "night shift"}}},
                                          {"upper", 5},
                                          {"unit", "%"}})));
    REQUIRE(limit.where.size() == 5);
    const auto by_name = [&limit](const std::string& name) {
        return *std::ranges::find(limit.where, name, &model::Selector::name);
    };
    CHECK(by_name("sample").ids == std::vector<std::string>{"S1", "S2"});
    CHECK(by_name("level").from == 100.0);
    CHECK(by_name("level").to == 1000.0);
    CHECK(by_name("temperature").from == 313.15);
    CHECK(by_name("temperature").to == 313.15);
    CHECK(by_name("operator").ids == std::vector<std::string>{"night shift"});
}

TEST_CASE("a correction is selected by the id that the header gives it", "[intake][limits]")
{
    const auto by = [](const char* id) {
        return read(file_of({{"id", "L-1"},
                             {"metric", "remaining_error"},
                             {"where", {{"correction", id}}},
                             {"upper", 5},
                             {"unit", "%"}}));
    };
    CHECK(only(by("window")).where[0].ids == std::vector<std::string>{"window"});
    CHECK(by("windows").messages.find("found unknown correction \"windows\", expected \"window\"") !=
          std::string::npos);
}

TEST_CASE("the ends of a range of levels belong to it", "[intake][limits]")
{
    const auto with_range = [](double from, double to) {
        return read(file_of({{"id", "L-1"},
                             {"metric", "reading_error"},
                             {"where", {{"level", {{"from", from}, {"to", to}, {"unit", "lx"}}}}},
                             {"upper", 5},
                             {"unit", "%"}}))
            .messages;
    };
    CHECK(with_range(100, 200).empty());
    CHECK(with_range(5, 10).empty());
    CHECK(with_range(11, 99).find(
              "found a level that no run meets, expected a level that a run states: 10, 100 lx") !=
          std::string::npos);
}

TEST_CASE("compound limits are fractions and lx", "[intake][limits]")
{
    const auto limit = only(read(file_of(
        {{"id", "L-1"},
         {"metric", "reading_difference"},
         {"plus_minus",
          {{"percent_of_level", 5}, {"fixed", {{"value", 0.001}, {"unit", "klx"}}}, {"combine", "greater"}}},
         {"decision_rule", {{"kind", "four-outcome"}, {"guard_band_multiple", 0.5}}}})));
    REQUIRE(limit.plus_minus);
    CHECK(*limit.plus_minus->fraction_of_level == 0.05);
    CHECK(*limit.plus_minus->fixed_lx == 1);
    CHECK(limit.plus_minus->greater);
    REQUIRE(limit.rule);
    CHECK(limit.rule->kind == model::RuleKind::four_outcome);
    CHECK(limit.rule->guard_band_multiple == 0.5);
}

TEST_CASE("a mask is read in degree with empty bounds, and kept with the evidence", "[intake][limits]")
{
    test::MemoryFiles files{{"mask.csv", "angle,upper\n-60,0.5\n0,\n60,0.5\n"}};
    const auto found = read(file_of({{"id", "L-1"},
                                     {"metric", "angular_response"},
                                     {"unit", "1"},
                                     {"mask", {{"file", "mask.csv"}, {"along", "angle"}}}}),
                            files);
    const auto limit = only(found);
    CHECK(limit.mask->angle_degree == std::vector<double>{-60, 0, 60});
    CHECK(limit.mask->upper[2] == 0.5);
    CHECK(std::isnan(limit.mask->upper[1]));
    CHECK(std::isnan(limit.mask->lower[0]));
    REQUIRE(found.files.size() == 2);
    CHECK(found.files[0].role == "limits");
    CHECK(found.files[1].path == "mask.csv");
    CHECK(found.files[1].role == "mask of L-1");
}

TEST_CASE("what is expected may be more than what was read", "[intake][limits]")
{
    const auto limit = only(read(
        file_of({{"id", "L-1"},
                 {"metric", "reading_error"},
                 {"upper", 5},
                 {"unit", "%"},
                 {"expects", {{"samples", {"S2"}}, {"levels", {10, {{"value", 5}, {"unit", "klx"}}}}}}})));
    CHECK(*limit.expects.samples == std::vector<std::string>{"S2"});
    CHECK(*limit.expects.levels_lx == std::vector<double>{10, 5000});
    CHECK_FALSE(limit.expects.sources);
}

TEST_CASE("without a qualification only what the limits file itself shows is told", "[intake][limits]")
{
    auto limit = json{{"id", "L-1"},
                      {"metric", "reading_error"},
                      {"where", {{"sample", "S99"}, {"level", 7}, {"shift", "late"}}},
                      {"upper", 5},
                      {"unit", "lx"}};
    diagnostics::Diagnostics found;
    intake::check_limits("limits.json", file_of(limit).dump(), test::MemoryFiles{}, test::catalogue(), found);
    REQUIRE(found.all().size() == 1);
    CHECK(found.all()[0].found == "found unit \"lx\" for metric \"reading_error\"");
}
