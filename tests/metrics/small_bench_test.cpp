// A small bench, whole: a tram driver's console whose backlight sensor sits behind a tinted panel (invented).
// The expected figures in small-bench/expected.json were computed from the measurement models alone by an
// evaluator written apart from this program, and met there by second routes.

#include "intake/intake.hpp"
#include "metrics/in_memory.hpp"
#include "metrics/metrics.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <set>

#include "support/catch.hpp"

using namespace luxdossier;
using nlohmann::json;

namespace {

const std::string folder = std::string(LUXDOSSIER_SOURCE_DIRECTORY) + "/tests/metrics/small-bench";

const model::Qualification& qualification()
{
    static const auto read = [] {
        diagnostics::Diagnostics faults;
        auto found = intake::read_qualification(*intake::folder_on_disk(folder), faults);
        for (const auto& fault : faults.all())
            UNSCOPED_INFO(diagnostics::render(fault));
        REQUIRE(found.has_value());
        return *found;
    }();
    return read;
}

const model::Evaluation& evaluation()
{
    static const auto evaluated = metrics::evaluate(qualification());
    return evaluated;
}

const json& expected()
{
    static const auto parsed = json::parse(std::ifstream(folder + "/expected.json"));
    return parsed;
}

bool same_condition(const json& wanted, const model::ConditionValue& found)
{
    if (wanted.is_string()) {
        const auto* text = std::get_if<std::string>(&found);
        return text != nullptr && *text == wanted.get<std::string>();
    }
    const auto* quantity = std::get_if<model::ConditionQuantity>(&found);
    return quantity != nullptr && quantity->unit == wanted.at("unit").get<std::string>() &&
           quantity->value == wanted.at("value").get<double>();
}

/// The file leaves out further conditions of the runs, such as own_light: what it states must agree.
bool matches(const json& wanted, const model::Result& result)
{
    if (result.metric != wanted.at("metric").get<std::string>())
        return false;
    if (result.sample !=
        (wanted.at("sample").is_null() ? std::string{} : wanted.at("sample").get<std::string>()))
        return false;
    for (const auto& [name, value] : wanted.at("conditions").items()) {
        const auto found = result.conditions.find(name);
        if (found == result.conditions.end() || !same_condition(value, found->second))
            return false;
    }
    return true;
}

std::string words(const json& wanted)
{
    return wanted.at("metric").get<std::string>() + " " + wanted.at("conditions").dump();
}

/// nu as the file states it: exact, above 10 000 to 1e-5 (it depends on rounding there); null is infinite.
bool same_degrees_of_freedom(const json& wanted, double found)
{
    if (wanted.is_null())
        return std::isinf(found);
    const double nu = wanted.get<double>();
    return nu > 10000 ? test::agree(found, nu, 1e-5) : found == nu;
}

}  // namespace

TEST_CASE("the small bench gives every published result, with u, degrees of freedom and k", "[metrics]")
{
    for (const auto& wanted : expected().at("results")) {
        CAPTURE(words(wanted));
        const model::Result* found = nullptr;
        for (const auto& result : evaluation().results)
            if (matches(wanted, result)) {
                CHECK(found == nullptr);
                found = &result;
            }
        REQUIRE(found != nullptr);
        REQUIRE(found->value.has_value());
        CHECK(found->unit == wanted.at("unit").get<std::string>());
        CHECK(found->undecided.empty());
        const double value = wanted.at("value").get<double>();
        const double expanded = wanted.at("expanded_uncertainty").is_null()
                                    ? 0.0
                                    : wanted.at("expanded_uncertainty").get<double>();
        CHECK(std::abs(*found->value - value) <= 1e-9 * std::max(std::abs(value), expanded));
        if (wanted.at("standard_uncertainty").is_null()) {
            CHECK(!found->combined.has_value());
            continue;
        }
        REQUIRE(found->combined.has_value());
        CHECK(test::agree(found->combined->standard_uncertainty,
                          wanted.at("standard_uncertainty").get<double>(), 1e-6));
        CAPTURE(found->combined->degrees_of_freedom, wanted.at("effective_degrees_of_freedom").dump());
        CHECK(same_degrees_of_freedom(wanted.at("effective_degrees_of_freedom"),
                                      found->combined->degrees_of_freedom));
        CHECK(
            test::agree(found->combined->coverage_factor, wanted.at("coverage_factor").get<double>(), 1e-9));
        CHECK(test::agree(found->combined->expanded_uncertainty, expanded, 1e-6));
    }
}

TEST_CASE("the small bench gives every published line of its budgets", "[metrics]")
{
    for (const auto& wanted : expected().at("results")) {
        if (!wanted.contains("budget"))
            continue;
        CAPTURE(words(wanted));
        const auto found = std::ranges::find_if(evaluation().results,
                                                [&](const auto& result) { return matches(wanted, result); });
        REQUIRE(found != evaluation().results.end());
        const auto budget = evaluation().budget(*found);
        std::set<std::size_t> taken;
        for (const auto& line : wanted.at("budget")) {
            // quantity, estimate, standard_uncertainty, evaluation, degrees_of_freedom, sensitivity,
            // contribution, printed to seven digits; lines are told apart by their numbers, the quantities
            // are worded differently.
            CAPTURE(line.dump());
            const auto& inputs = evaluation().graph.inputs();
            bool seen = false;
            for (std::size_t i = 0; i < budget.lines.size() && !seen; ++i) {
                const auto& own = budget.lines[i];
                const auto& input = inputs[own.input.index];
                seen = !taken.contains(i) &&
                       test::agree(input.standard_uncertainty, line.at(2).get<double>(), 1e-6) &&
                       std::abs(input.estimate - line.at(1).get<double>()) <=
                           1e-6 * std::abs(line.at(1).get<double>()) &&
                       test::agree(own.contribution, line.at(6).get<double>(), 2e-6) &&
                       test::agree(own.sensitivity, line.at(5).get<double>(), 2e-6) &&
                       (input.evaluation == uncertainty::Evaluation::type_a) ==
                           (line.at(3).get<std::string>() == "A") &&
                       (line.at(4).is_null() ? std::isinf(input.degrees_of_freedom)
                                             : input.degrees_of_freedom == line.at(4).get<double>());
                if (seen)
                    taken.insert(i);
            }
            CHECK(seen);
        }
        // and nothing else that matters: lines below 1e-4 of u are left out of the file
        for (std::size_t i = 0; i < budget.lines.size(); ++i) {
            CAPTURE(evaluation().graph.inputs()[budget.lines[i].input.index].identity);
            CHECK((taken.contains(i) ||
                   budget.lines[i].contribution < 1.001e-4 * budget.combined.standard_uncertainty));
        }
    }
}

TEST_CASE("sensitivities of the small bench agree with central differences through the whole graph",
          "[metrics]")
{
    // Minimax lines hold on their active set and C on its interval: steps of 1e-3 u stay inside both.
    std::set<std::string> seen;
    for (const auto& result : evaluation().results) {
        if (!result.node || !result.combined || result.combined->standard_uncertainty == 0)
            continue;
        CAPTURE(result.id);
        seen.insert(result.metric);
        CHECK(test::worst_sensitivity(evaluation(), result) < 1e-6);
    }
    for (const auto* metric :
         {"dark_reading", "position_factor", "illuminance", "reading_error", "reading_difference", "gain",
          "offset", "linearity_deviation", "log_log_slope", "window_response_ratio"})
        CHECK(seen.contains(metric));
}
