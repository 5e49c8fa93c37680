#include "record/json_writer.hpp"
#include "record/record.hpp"

#include "uncertainty/expression.hpp"

#include <nlohmann/json.hpp>

#include "support/catch.hpp"

using namespace luxdossier;
using nlohmann::json;

namespace {

/// Two readings taken together make one result; a second one cannot be given.
model::Dossier dossier()
{
    model::Dossier made;
    uncertainty::GraphBuilder builder;
    const auto sensor =
        builder.input({"run:bare/sensor", "sensor, mean of 10", "D", "lx", 100, 0.3,
                       uncertainty::Distribution::normal, uncertainty::Evaluation::type_a, 9, "", 0});
    const auto meter =
        builder.input({"run:bare/meter", "meter, mean of 10", "R", "lx", 98, 0.4,
                       uncertainty::Distribution::normal, uncertainty::Evaluation::type_a, 9, "", 0});
    const auto ageing = builder.input(
        {"meter:M1/ageing", "ageing of the meter", "a", "1", 1, 0.01, uncertainty::Distribution::rectangular,
         uncertainty::Evaluation::type_b, uncertainty::infinite, "class limit", 0});
    builder.group({uncertainty::InputGroup::Kind::observed_together,
                   "run:bare",
                   {builder.input_of(sensor), builder.input_of(meter)},
                   {0.09, 0.06, 0.06, 0.16},
                   9});
    const auto difference = sensor - meter * ageing;
    model::Result result;
    result.metric = "reading_difference";
    result.sample = "S1";
    result.conditions = {{"level", model::ConditionQuantity{100, "lx"}}, {"source", std::string("led")}};
    result.id = model::result_id(result.metric, result.sample, result.conditions);
    result.unit = "lx";
    result.node = difference.node();
    made.evaluation.graph = std::move(builder).freeze();
    result.combined = made.evaluation.budget(result).combined;
    result.value = result.combined->value;
    model::Result none;
    none.metric = none.id = "dark_noise";
    none.unit = "lx";
    none.undecided = "no step in the data";
    made.evaluation.results = {result, none};
    made.version = "0.0.0";
    made.date = {1700000000};
    return made;
}

}  // namespace

TEST_CASE("a result is written with its uncertainty, budget and formula", "[record]")
{
    const auto made = dossier();
    const auto record = json::parse(record::write_record(made));
    const auto& result = record.at("results").at(0);
    const auto& combined = *made.evaluation.results[0].combined;
    CHECK(result.at("id") == "reading_difference/level=100lx/sample=S1/source=led");
    CHECK(result.at("value") == combined.value);
    CHECK(result.at("standard_uncertainty") == combined.standard_uncertainty);
    CHECK(result.at("expanded_uncertainty") == combined.expanded_uncertainty);
    CHECK(result.at("effective_degrees_of_freedom") == combined.degrees_of_freedom);
    CHECK(result.at("interval") == json({combined.value - combined.expanded_uncertainty,
                                         combined.value + combined.expanded_uncertainty}));
    CHECK(result.at("conditions") == json::parse(R"({"level":{"value":100,"unit":"lx"},"source":"led"})"));
    REQUIRE(result.at("budget").size() == 3);
    const auto& first = result.at("budget").at(0);
    CHECK(first.at("input") == "meter:M1/ageing");
    CHECK(first.at("sensitivity") == -98);
    CHECK_FALSE(result.at("formula").get<std::string>().empty());
    CHECK(record.at("date") == "2023-11-14T22:13:20Z");
}

TEST_CASE("what an input is, is written once, however many budgets name it", "[record]")
{
    auto made = dossier();
    made.evaluation.results.push_back(made.evaluation.results[0]);
    const auto record = json::parse(record::write_record(made));
    CHECK(record.at("results").at(2).at("budget") == record.at("results").at(0).at("budget"));
    REQUIRE(record.at("input_quantities").size() == 3);
    CHECK(record.at("input_quantities").at(2) == json::parse(R"({"input": "meter:M1/ageing",
        "quantity": "ageing of the meter", "symbol": "a", "estimate": 1, "unit": "1",
        "standard_uncertainty": 0.01, "distribution": "rectangular", "evaluation": "B",
        "degrees_of_freedom": null, "note": "class limit"})"));
}

TEST_CASE("inputs that were observed together are written with their covariance", "[record]")
{
    const auto record = json::parse(record::write_record(dossier()));
    const auto& group = record.at("groups").at(0);
    CHECK(group.at("members") == json({"run:bare/sensor", "run:bare/meter"}));
    CHECK(group.at("covariance") == json::parse("[[0.09,0.06],[0.06,0.16]]"));
    CHECK(group.at("degrees_of_freedom") == 9);
    CHECK(group.at("kind") == "observed together");
}

TEST_CASE("a result that cannot be given has no value and a reason", "[record]")
{
    const auto record = json::parse(record::write_record(dossier()));
    const auto& none = record.at("results").at(1);
    CHECK(none.at("value").is_null());
    CHECK(none.at("reason") == "no step in the data");
    CHECK(none.at("standard_uncertainty").is_null());
    CHECK(none.at("budget").empty());
}

TEST_CASE("without limits there are no verdicts and no overall outcome", "[record]")
{
    const auto record = json::parse(record::write_record(dossier()));
    CHECK(record.at("specification").is_null());
    CHECK(record.at("verdicts").empty());
    CHECK(record.at("overall").is_null());
}

TEST_CASE("the record in pieces is the record", "[record]")
{
    const auto made = dossier();
    std::string joined;
    record::write_record(made, [&](std::string_view piece) { joined += piece; });
    CHECK(joined == record::write_record(made));
}

TEST_CASE("a text longer than a piece leaves in several, members written once stay as they are", "[record]")
{
    std::vector<std::string> pieces;
    record::JsonWriter writer([&](std::string_view piece) { pieces.emplace_back(piece); });
    const record::JsonWriter::Members members(
        [](record::JsonWriter& one) { one.text("a", "x\"\n\x01y").number("b", 0.1); });
    const auto member = std::string(R"({"a":"x\"\n\u0001y","b":0.1,"c":null})");
    constexpr std::size_t count = 100'000;
    writer.begin_list();
    for (std::size_t i = 0; i < count; ++i)
        writer.begin_object().members(members).null("c").end_object();
    writer.end_list().finish();
    CHECK(pieces.size() > 2);
    std::string joined;
    for (const auto& piece : pieces)
        joined += piece;
    std::string expected = "[";
    for (std::size_t i = 0; i < count; ++i)
        expected += (i == 0 ? "\n" : ",\n") + std::string("{\n") + member.substr(1, member.size() - 11) +
                    ",\n\"c\":null\n}";
    CHECK(joined == expected + "\n]\n");
}

TEST_CASE("a verdict names its limit and its result", "[record]")
{
    auto made = dossier();
    made.limits.emplace();
    made.limits->limits.resize(2);
    made.limits->limits[0].id = "L-01";
    made.limits->limits[1].id = "L-02";
    made.limits->limits[1].not_assessed = "tested elsewhere";
    model::Verdict verdict;
    verdict.result = 0;
    verdict.outcome = model::Outcome::conditional_pass;
    verdict.tolerance_upper = 3;
    verdict.unit = "lx";
    verdict.improvement =
        model::Improvement{0.5, {{uncertainty::Input{2}, 0.9, 0.25}, {uncertainty::Input{0}, 0.1, {}}}};
    made.verdicts = {
        {verdict}, {model::Outcome::conditional_pass, std::nullopt}, model::Outcome::conditional_pass};
    for (const auto& text : {record::write_record(made), record::write_verdicts(made)}) {
        const auto record = json::parse(text);
        const auto& written = record.at("verdicts").at(0);
        CHECK(written.at("limit") == "L-01");
        CHECK(written.at("result") == "reading_difference/level=100lx/sample=S1/source=led");
        CHECK(written.at("outcome") == "conditional_pass");
        CHECK(written.at("tolerance_limits") == json::parse(R"({"lower":null,"upper":3})"));
        CHECK(written.at("acceptance_limits").is_null());
        CHECK(written.at("improvement") == json::parse(R"({"factor": 0.5, "inputs": [
            {"input": "meter:M1/ageing", "share": 0.9, "factor": 0.25},
            {"input": "run:bare/sensor", "share": 0.1, "factor": null}]})"));
        CHECK(record.at("overall") == "conditional_pass");
        CHECK(record.at("specification").at("limits").at(1).at("not_assessed") == "tested elsewhere");
    }
}

TEST_CASE("place, room, deviations, checks, chains and joins stand in the record", "[record]")
{
    auto made = dossier();
    auto& qualification = made.qualification;
    qualification.document.place = "hall 7";
    qualification.document.deviations = {"no second operator"};
    model::Quantity temperature;
    temperature.value = 296.15;
    temperature.unit = "K";
    temperature.standard_uncertainty = 0.5;
    qualification.document.environment.temperature = {temperature, 294.15, std::nullopt};
    qualification.equipment.resize(1);
    qualification.equipment[0].id = "stage";
    qualification.equipment[0].traceable_to = "angle laboratory";
    model::Run run;
    run.id = "levels";
    run.files.resize(2);
    run.files[0] = {"product.csv", 50, 50, 0, "rows of this file are kept", {}};
    run.files[1] = {"meter.csv", 0, 50, 0.4, "by time within 1 s (stated)", {14}};
    qualification.runs = {run, run};  // split by a condition column: told once
    const auto record = json::parse(record::write_record(made));
    const auto& laboratory = record.at("laboratory");
    CHECK(laboratory.at("place") == "hall 7");
    CHECK(laboratory.at("sampling").is_null());
    CHECK(laboratory.at("deviations") == json({"no second operator"}));
    CHECK(laboratory.at("temperature") == json({{"value", 296.15},
                                                {"unit", "K"},
                                                {"standard_uncertainty", 0.5},
                                                {"from", 294.15},
                                                {"to", nullptr}}));
    CHECK(laboratory.at("humidity").is_null());
    CHECK(laboratory.at("equipment").at(0).at("traceable_to") == "angle laboratory");
    REQUIRE(record.at("run_files").size() == 1);
    const auto& file = record.at("run_files").at(0).at("files").at(1);
    CHECK(file.at("matched_rows") == 50);
    CHECK(file.at("largest_time_difference_s") == 0.4);
    CHECK(file.at("comment_lines") == json({14}));
}
