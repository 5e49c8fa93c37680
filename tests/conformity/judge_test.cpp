#include "conformity/conformity.hpp"

#include "uncertainty/expression.hpp"

#include <limits>
#include <string>

#include "support/catch.hpp"

using namespace luxdossier;
using model::Outcome;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();

/// A console with two samples, two configurations and two sources.
model::Qualification console()
{
    model::Qualification qualification;
    qualification.samples = {{"S1", "", "", "", ""}, {"S2", "", "", "", ""}};
    qualification.configurations.resize(2);
    qualification.configurations[0].id = "bare";
    qualification.configurations[1].id = "windowed";
    qualification.sources.resize(2);
    qualification.sources[0].id = "led";
    qualification.sources[1].id = "lamp";
    qualification.reference_configuration = "bare";
    qualification.reference_source = "led";
    return qualification;
}

model::MetricCatalogue catalogue()
{
    return {{"reading_error", "%", {"configuration", "source", "level"}, true},
            {"reading_difference", "lx", {"configuration", "source", "level"}, true},
            {"source_variation", "%", {"configuration", "source", "level"}, true},
            {"correction_gain", "1", {"correction", "configuration", "source"}, true},
            {"source_difference", "%", {"configuration", "source", "other_source", "level"}, true},
            {"window_response_ratio", "1", {"configuration", "source", "level"}, true},
            {"angular_response", "1", {"configuration", "source", "plane", "angle"}, true},
            {"half_response_angle", "degree", {"configuration", "source", "plane", "side"}, true},
            {"warm_up_time", "s", {"source"}, false}};
}

model::Result result(const std::string& metric, const std::string& sample,
                     const model::Conditions& conditions, double value, double u)
{
    model::Result made;
    made.metric = metric;
    made.sample = sample;
    made.conditions = conditions;
    made.id = model::result_id(metric, sample, conditions);
    made.value = value;
    made.combined = uncertainty::Combined{value, u, uncertainty::infinite, 0.9545, 2, 2 * u};
    return made;
}

model::Conditions at(const std::string& configuration, const std::string& source)
{
    return {{"configuration", configuration}, {"source", source}};
}

model::Conditions at_level(const std::string& configuration, const std::string& source, double level_lx)
{
    auto conditions = at(configuration, source);
    conditions["level"] = model::ConditionQuantity{level_lx, "lx"};
    return conditions;
}

model::Limit limit_on(const std::string& metric, std::optional<double> lower, std::optional<double> upper)
{
    model::Limit limit;
    limit.id = "L-01";
    limit.metric = metric;
    limit.lower = lower;
    limit.upper = upper;
    limit.unit = "%";
    return limit;
}

model::Verdicts judged(const model::Limit& limit, std::vector<model::Result> results)
{
    model::Limits limits;
    limits.limits = {limit};
    model::Evaluation evaluation;
    evaluation.results = std::move(results);
    return conformity::judge(console(), limits, catalogue(), evaluation);
}

std::string missing(const model::Verdicts& verdicts)
{
    std::string text;
    for (const auto& verdict : verdicts.verdicts)
        if (!verdict.result)
            text += verdict.expected + ";";
    return text;
}

}  // namespace

TEST_CASE("every combination of sample, configuration and source is expected", "[conformity]")
{
    const auto verdicts = judged(limit_on("reading_error", -1, 1),
                                 {result("reading_error", "S1", at_level("bare", "led", 10), 0, 0.1),
                                  result("reading_error", "S2", at_level("windowed", "lamp", 10), 0, 0.1)});
    CHECK(missing(verdicts) == "sample S1, configuration bare, source lamp;"
                               "sample S1, configuration windowed, source led;"
                               "sample S1, configuration windowed, source lamp;"
                               "sample S2, configuration bare, source led;"
                               "sample S2, configuration bare, source lamp;"
                               "sample S2, configuration windowed, source led;");
    CHECK(verdicts.verdicts.back().outcome == Outcome::not_decided);
    CHECK(verdicts.verdicts.back().reason == "no result for sample S2, configuration windowed, source led");
    CHECK(verdicts.overall == Outcome::not_decided);
}

TEST_CASE("a correction that names no sample or no source serves all of them", "[conformity]")
{
    auto fleet = at("windowed", "led");
    fleet["correction"] = std::string("fleet");
    CHECK(missing(
              judged(limit_on("correction_gain", 0, 2), {result("correction_gain", "", fleet, 1.1, 0.01)})) ==
          "sample S1, configuration bare, source led;sample S1, configuration bare, source lamp;"
          "sample S1, configuration windowed, source lamp;sample S2, configuration bare, source led;"
          "sample S2, configuration bare, source lamp;sample S2, configuration windowed, source lamp;");
    auto limit = limit_on("correction_gain", 0, 2);
    limit.where = {{"configuration", {"windowed"}, {}, {}}};
    fleet.erase("source");
    CHECK(missing(judged(limit, {result("correction_gain", "", fleet, 1.1, 0.01)})) == "");
}

TEST_CASE("where and expects say what is expected", "[conformity]")
{
    auto limit = limit_on("reading_error", -1, 1);
    limit.where = {{"sample", {"S1"}, {}, {}}, {"configuration", {"bare"}, {}, {}}};
    limit.expects.sources = {"led"};
    limit.expects.levels_lx = {10, 100};
    const auto verdicts =
        judged(limit, {result("reading_error", "S1", at_level("bare", "led", 10), 0, 0.1),
                       result("reading_error", "S1", at_level("bare", "lamp", 100), 0, 0.1)});
    CHECK(missing(verdicts) == "sample S1, configuration bare, source led, level 100 lx;");
    CHECK(verdicts.verdicts.size() == 3);
}

TEST_CASE("a metric without sample expects its sources only", "[conformity]")
{
    auto limit = limit_on("warm_up_time", {}, 20);
    limit.unit = "min";
    limit.unit_scale = 60;
    const auto verdicts = judged(limit, {result("warm_up_time", "", {{"source", "led"}}, 600, 6)});
    CHECK(missing(verdicts) == "source lamp;");
    // Record units are seconds; the verdict is in the limit's unit.
    CHECK(*verdicts.verdicts.front().value == 10);
    CHECK(test::agree(*verdicts.verdicts.front().expanded_uncertainty, 0.2, 1e-12));
    CHECK(verdicts.verdicts.front().unit == "min");
}

TEST_CASE("a verdict says what would have to improve, where less uncertainty would let it pass",
          "[conformity]")
{
    uncertainty::GraphBuilder builder;
    uncertainty::InputQuantity quantity;
    quantity.identity = "a";
    quantity.unit = "%";
    quantity.estimate = 9;
    quantity.standard_uncertainty = 1;
    auto value = result("reading_error", "S1", at_level("bare", "led", 10), 9, 1);
    value.node = builder.input(quantity).node();
    model::Evaluation evaluation;
    evaluation.graph = builder.graph();
    evaluation.results = {value};
    model::Limits limits;
    limits.rule = {model::RuleKind::four_outcome, 1.0};
    limits.limits = {limit_on("reading_error", -10, 10)};
    limits.limits[0].where = {{"sample", {"S1"}, {}, {}}, {"source", {"led"}, {}, {}}};
    limits.limits[0].expects.configurations = {"bare"};
    // U = 2 reaches 1 beyond the limit at 10: half of it may remain.
    const auto verdicts = conformity::judge(console(), limits, catalogue(), evaluation);
    const auto& verdict = verdicts.verdicts.front();
    REQUIRE(verdict.improvement.has_value());
    CHECK(test::agree(verdict.improvement->whole, 0.5, 1e-12));
    CHECK(test::agree(verdict.improvement->inputs.at(0).factor.value(), 0.5, 1e-12));
}

TEST_CASE("a reference is not compared with itself", "[conformity]")
{
    auto variation = limit_on("source_variation", -1, 1);
    variation.where = {{"sample", {"S1"}, {}, {}}, {"configuration", {"bare"}, {}, {}}};
    CHECK(missing(judged(variation, {})) == "sample S1, configuration bare, source lamp;");
    auto ratio = limit_on("window_response_ratio", 0.1, 0.2);
    ratio.where = {{"sample", {"S1"}, {}, {}}, {"source", {"led"}, {}, {}}};
    CHECK(missing(judged(ratio, {})) == "sample S1, configuration windowed, source led;");
}

TEST_CASE("a difference of two sources answers for both", "[conformity]")
{
    auto limit = limit_on("source_difference", -5, 5);
    limit.where = {{"sample", {"S1"}, {}, {}}, {"configuration", {"bare"}, {}, {}}};
    auto conditions = at("bare", "led");
    conditions["other_source"] = "lamp";
    CHECK(missing(judged(limit, {result("source_difference", "S1", conditions, 0, 0.1)})).empty());
    CHECK(missing(judged(limit, {})) == "sample S1, configuration bare, source led;"
                                        "sample S1, configuration bare, source lamp;");
}

TEST_CASE("a limit without any verdict gets one that is not decided", "[conformity]")
{
    auto limit = limit_on("warm_up_time", {}, 20);
    limit.expects.sources = std::vector<std::string>{};
    const auto verdicts = judged(limit, {});
    REQUIRE(verdicts.verdicts.size() == 1);
    CHECK(verdicts.verdicts.front().outcome == Outcome::not_decided);
    CHECK(verdicts.verdicts.front().reason == "no result");
}

TEST_CASE("a limit that is not assessed has no outcome and does not count", "[conformity]")
{
    model::Limit limit;
    limit.id = "L-22";
    limit.not_assessed = "customer tests this at vehicle level";
    const auto verdicts = judged(limit, {});
    CHECK(verdicts.verdicts.empty());
    REQUIRE(verdicts.by_limit.size() == 1);
    CHECK_FALSE(verdicts.by_limit.front());
    CHECK_FALSE(verdicts.overall);
}

TEST_CASE("a result that is not decided stays so, without acceptance limits", "[conformity]")
{
    auto open = result("reading_error", "S1", at_level("bare", "led", 10), 0.2, 0.1);
    open.undecided = "not-co-located: no position factor";
    auto limit = limit_on("reading_error", -1, 1);
    limit.expects = {{{"S1"}}, {{"bare"}}, {{"led"}}, {}};
    const auto verdicts = judged(limit, {open});
    REQUIRE(verdicts.verdicts.size() == 1);
    const auto& verdict = verdicts.verdicts.front();
    CHECK(verdict.outcome == Outcome::not_decided);
    CHECK(verdict.reason == "not-co-located: no position factor");
    CHECK(*verdict.value == 0.2);
    CHECK(*verdict.tolerance_upper == 1);
    CHECK_FALSE(verdict.acceptance_upper);
    CHECK_FALSE(verdict.margin);
    CHECK_FALSE(verdict.guard_upper);
    CHECK_FALSE(verdict.conformance_probability);
}

TEST_CASE("plus and minus are taken at the evaluated illuminance", "[conformity]")
{
    auto limit = limit_on("reading_difference", {}, {});
    limit.plus_minus = model::PlusMinus{0.05, 1, false};
    limit.expects = {{{"S1"}}, {{"bare"}}, {{"led"}}, {}};
    auto difference = result("reading_difference", "S1", at_level("bare", "led", 100), 5.5, 0.1);
    difference.illuminance_lx = 98;
    const auto sum = judged(limit, {difference}).verdicts.front();
    CHECK(test::agree(*sum.tolerance_upper, 0.05 * 98 + 1, 1e-15));
    CHECK(*sum.tolerance_lower == -*sum.tolerance_upper);
    CHECK(sum.unit == "lx");
    CHECK(sum.outcome == Outcome::pass);
    limit.plus_minus->greater = true;
    const auto greater = judged(limit, {difference}).verdicts.front();
    CHECK(test::agree(*greater.tolerance_upper, 0.05 * 98, 1e-15));
    CHECK(greater.outcome == Outcome::fail);
    difference.illuminance_lx.reset();
    const auto without = judged(limit, {difference}).verdicts.front();
    CHECK(without.outcome == Outcome::not_decided);
    CHECK(without.reason == "no illuminance was evaluated to which the limit could refer");
}

TEST_CASE("a mask is linear in between, selects nothing beyond it, and has no limit in an empty cell",
          "[conformity]")
{
    auto limit = limit_on("angular_response", {}, {});
    limit.mask = model::Mask{"mask.csv", {-60, 0, 60}, {0.4, 0.9, none}, {0.6, 1.1, 0.6}};
    limit.expects = {{{"S1"}}, {{"bare"}}, {{"led"}}, {}};
    const auto response = [](double angle) {
        auto conditions = at("bare", "led");
        conditions["angle"] = model::ConditionQuantity{angle, "degree"};
        return result("angular_response", "S1", conditions, 0.7, 0.01);
    };
    const auto verdicts =
        judged(limit, {response(-65), response(-60), response(-30), response(30), response(61)});
    REQUIRE(verdicts.verdicts.size() == 3);
    CHECK(*verdicts.verdicts[0].tolerance_upper == 0.6);
    CHECK(verdicts.verdicts[0].outcome == Outcome::fail);
    CHECK(test::agree(*verdicts.verdicts[1].tolerance_lower, 0.65, 1e-15));
    CHECK(test::agree(*verdicts.verdicts[1].tolerance_upper, 0.85, 1e-15));
    CHECK_FALSE(verdicts.verdicts[2].tolerance_lower);
    CHECK(test::agree(*verdicts.verdicts[2].tolerance_upper, 0.85, 1e-15));
}

TEST_CASE("of several crossings the innermost has the lower limit, the outermost the upper one",
          "[conformity]")
{
    const auto crossing = [](const std::string& which, double value) {
        auto conditions = at("bare", "led");
        conditions["crossing"] = which;
        return result("half_response_angle", "S1", conditions, value, 0.1);
    };
    auto limit = limit_on("half_response_angle", 54, 66);
    limit.expects = {{{"S1"}}, {{"bare"}}, {{"led"}}, {}};
    const std::vector<model::Result> both{crossing("innermost", 50), crossing("outermost", 70)};
    const auto verdicts = judged(limit, both).verdicts;
    REQUIRE(verdicts.size() == 2);
    CHECK_FALSE(verdicts[0].tolerance_upper);
    CHECK(*verdicts[0].tolerance_lower == 54);
    CHECK_FALSE(verdicts[1].tolerance_lower);
    CHECK(*verdicts[1].tolerance_upper == 66);
    limit.upper.reset();
    CHECK(judged(limit, both).verdicts.size() == 1);
}

TEST_CASE("the overall outcome is the worst, and the order of severity is that of the rules", "[conformity]")
{
    auto limit = limit_on("reading_error", -10, 10);
    limit.rule = model::DecisionRule{model::RuleKind::four_outcome, 1};
    limit.expects = {{{"S1"}}, {{"bare"}}, {{"led"}}, {}};
    const auto with = [&](double value) {
        return judged(limit, {result("reading_error", "S1", at_level("bare", "led", 10), 0, 1),
                              result("reading_error", "S1", at_level("bare", "led", 20), value, 1)})
            .overall;
    };
    CHECK(with(0) == Outcome::pass);
    CHECK(with(9) == Outcome::conditional_pass);
    CHECK(with(11) == Outcome::conditional_fail);
    CHECK(with(13) == Outcome::fail);
    CHECK(Outcome::conditional_pass < Outcome::not_decided);
    CHECK(Outcome::not_decided < Outcome::conditional_fail);
}
