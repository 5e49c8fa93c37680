// The verdicts of the small bench beside tests/metrics, computed by an evaluator written apart from this
// program.

#include "conformity/conformity.hpp"
#include "intake/intake.hpp"
#include "metrics/metrics.hpp"

#include <nlohmann/json.hpp>

#include <cmath>
#include <fstream>
#include <sstream>

#include "support/catch.hpp"

using namespace luxdossier;
using nlohmann::json;

namespace {

const std::string folder = std::string(LUXDOSSIER_SOURCE_DIRECTORY) + "/tests/metrics/small-bench";

std::string content_of(const std::string& name)
{
    std::ifstream in(folder + "/" + name, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

bool has_conditions(const json& wanted, const model::Result& result)
{
    for (const auto& [name, value] : wanted.items()) {
        const auto found = result.conditions.find(name);
        if (found == result.conditions.end())
            return false;
        const auto text = value.is_string()
                              ? value.get<std::string>()
                              : model::condition_text(model::ConditionQuantity{
                                    value.at("value").get<double>(), value.at("unit").get<std::string>()});
        if (model::condition_text(found->second) != text)
            return false;
    }
    return true;
}

/// Numbers agree to 1e-9 of the larger of value and guard band, or both are absent.
void check_number(const json& wanted, const std::optional<double>& found, double scale)
{
    REQUIRE(wanted.is_null() == !found.has_value());
    if (found)
        CHECK(std::abs(*found - wanted.get<double>()) <= 1e-9 * std::max(scale, std::abs(*found)));
}

void check_verdict(const json& wanted, const model::Verdict& verdict)
{
    CHECK(model::outcome_key(verdict.outcome) == wanted.at("outcome").get<std::string>());
    if (wanted.at("value").is_null())
        return;
    const auto scale = std::max(std::abs(*verdict.value), *verdict.expanded_uncertainty);
    check_number(wanted.at("value"), verdict.value, scale);
    CHECK(verdict.unit == wanted.at("unit").get<std::string>());
    check_number(wanted.at("tolerance_limits").at("lower"), verdict.tolerance_lower, scale);
    check_number(wanted.at("tolerance_limits").at("upper"), verdict.tolerance_upper, scale);
    // u is published to be compared to 1e-6; so are the figures that follow from it.
    check_number(wanted.at("acceptance_limits").at("lower"), verdict.acceptance_lower, 1000 * scale);
    check_number(wanted.at("acceptance_limits").at("upper"), verdict.acceptance_upper, 1000 * scale);
    check_number(wanted.at("margin"), verdict.margin, 1000 * scale);
    check_number(wanted.at("guard_band"), verdict.guard_upper ? verdict.guard_upper : verdict.guard_lower,
                 1000 * scale);
    CHECK(test::agree(*verdict.conformance_probability, wanted.at("conformance_probability").get<double>(),
                      1e-6));
}

}  // namespace

TEST_CASE("the small bench gives every published verdict, in order", "[conformity]")
{
    diagnostics::Diagnostics faults;
    const auto files = intake::folder_on_disk(folder);
    const auto qualification = intake::read_qualification(*files, faults);
    REQUIRE(qualification);
    std::vector<model::InputFile> read;
    const auto limits = intake::read_limits("limits.json", content_of("limits.json"), *files, *qualification,
                                            metrics::catalogue(), read, faults);
    REQUIRE(limits);
    const auto evaluation = metrics::evaluate(*qualification);
    const auto verdicts = conformity::judge(*qualification, *limits, metrics::catalogue(), evaluation);
    const auto expected = json::parse(content_of("expected.json"));

    REQUIRE(verdicts.verdicts.size() == expected.at("verdicts").size());
    for (const auto& verdict : verdicts.verdicts) {
        const auto limit = limits->limits.at(verdict.limit).id;
        std::size_t matches = 0;
        for (const auto& wanted : expected.at("verdicts")) {
            if (wanted.at("limit") != limit || wanted.at("value").is_null() != !verdict.result.has_value())
                continue;
            if (verdict.result &&
                !has_conditions(wanted.at("conditions"), evaluation.results.at(*verdict.result)))
                continue;
            if (!verdict.result &&
                verdict.expected != "sample unit-2, configuration " +
                                        wanted.at("conditions").at("configuration").get<std::string>() +
                                        ", source led")
                continue;
            CAPTURE(limit, wanted.dump());
            ++matches;
            check_verdict(wanted, verdict);
        }
        CAPTURE(limit, verdict.expected);
        CHECK(matches == 1);
    }
    for (std::size_t i = 0; i < limits->limits.size(); ++i)
        CHECK(model::outcome_key(verdicts.by_limit[i].value()) ==
              expected.at("limits").at(i).at("outcome").get<std::string>());
    CHECK(model::outcome_key(verdicts.overall.value()) == expected.at("overall").get<std::string>());
}
