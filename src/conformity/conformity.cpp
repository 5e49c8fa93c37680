#include "conformity/conformity.hpp"

#include "conformity/decision.hpp"
#include "conformity/improvement.hpp"
#include "conformity/selection.hpp"
#include "conformity/trial_reason.hpp"
#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::conformity {
namespace {

using model::Outcome;

/// A record value in the unit that the limit is written in.
double in_unit_of(const model::Limit& limit, double record_value)
{
    return (record_value - limit.unit_offset) / limit.unit_scale;
}

Judged judged_value(const model::Limit& limit, const model::Result& result,
                    const std::optional<double>& probability)
{
    Judged judged;
    judged.upper_bound = result.upper_bound;
    judged.value = in_unit_of(limit, *result.value);
    if (result.combined) {
        const auto scale = std::abs(limit.unit_scale);
        judged.standard_uncertainty = result.combined->standard_uncertainty / scale;
        judged.expanded_uncertainty = result.combined->expanded_uncertainty / scale;
        judged.degrees_of_freedom = result.combined->degrees_of_freedom;
        if (result.is_judged_by_trials) {
            const auto& found = *result.monte_carlo;
            const auto reach = result.reach().value();
            const double above = reach.above / scale, below = reach.below / scale;
            const bool is_reversed = limit.unit_scale < 0;
            judged.width_above = is_reversed ? below : above;
            judged.width_below = is_reversed ? above : below;
            judged.expanded_uncertainty = (above + below) / 2;
            if (found.standard_uncertainty)
                judged.standard_uncertainty = *found.standard_uncertainty / scale;
            judged.probability = probability;
        }
    }
    return judged;
}

model::Verdict undecided(const model::Limit& limit, const model::Result& result, const Tolerance& tolerance,
                         std::string reason)
{
    model::Verdict verdict;
    verdict.reason = std::move(reason);
    if (result.value)
        verdict.value = in_unit_of(limit, *result.value);
    if (const auto expanded = result.expanded_uncertainty())
        verdict.expanded_uncertainty = *expanded / std::abs(limit.unit_scale);
    verdict.tolerance_lower = tolerance.lower;
    verdict.tolerance_upper = tolerance.upper;
    return verdict;
}

model::Verdict judge_result(const model::Limit& limit, const model::DecisionRule& rule,
                            const model::Evaluation& evaluation, const model::Result& result,
                            const std::optional<double>& probability)
{
    const auto [tolerance, without_tolerance] = tolerance_of(limit, result).value();
    if (!result.undecided.empty())
        return undecided(limit, result, tolerance, result.undecided);
    if (!result.value || !std::isfinite(*result.value))
        return undecided(limit, result, tolerance, "the result has no value");
    if (!without_tolerance.empty())
        return undecided(limit, result, tolerance, without_tolerance);
    auto verdict = decide(judged_value(limit, result, probability), tolerance, rule);
    verdict.by_trials = trial_reason(evaluation, result);
    return verdict;
}

model::Verdict missing(const Expected& expected)
{
    model::Verdict verdict;
    verdict.expected = expected_text(expected);
    verdict.reason = verdict.expected.empty() ? "no result" : "no result for " + verdict.expected;
    return verdict;
}

const model::MetricEntry& entry_of(const model::MetricCatalogue& catalogue, const model::Limit& limit)
{
    const auto found = std::ranges::find(catalogue, limit.metric, &model::MetricEntry::id);
    if (found == catalogue.end())
        throw std::domain_error(fmt::format("limit {} names metric \"{}\", expected one of the catalogue",
                                            limit.id, limit.metric));
    return *found;
}

/// All verdicts of one limit: those of its results, then what is missing.
std::vector<model::Verdict> judge_limit(const model::Limits& limits, std::size_t limit_index,
                                        const model::Qualification& qualification,
                                        const model::MetricCatalogue& catalogue,
                                        const model::Evaluation& evaluation, const Trials* trials)
{
    const auto& limit = limits.limits[limit_index];
    const auto rule = limit.rule.value_or(limits.rule);
    std::vector<model::Verdict> verdicts;
    std::vector<const model::Result*> results;
    for (const auto index : selected_results(limit, evaluation)) {
        results.push_back(&evaluation.results.at(index));
        verdicts.push_back(judge_result(limit, rule, evaluation, *results.back(),
                                        trials ? trials->probability(limit_index, index) : std::nullopt));
        verdicts.back().result = index;
        verdicts.back().improvement = improvement(evaluation, verdicts.back());
    }
    for (const auto& expected :
         missing_combinations(limit, qualification, entry_of(catalogue, limit), results))
        verdicts.push_back(missing(expected));
    if (verdicts.empty())
        verdicts.push_back(missing({}));
    return verdicts;
}

}  // namespace

model::Verdicts judge(const model::Qualification& qualification, const model::Limits& limits,
                      const model::MetricCatalogue& catalogue, const model::Evaluation& evaluation,
                      const Trials* trials)
{
    model::Verdicts all;
    if (trials != nullptr)
        all.joint = trials->joint;
    for (std::size_t i = 0; i < limits.limits.size(); ++i) {
        const auto& limit = limits.limits[i];
        std::optional<Outcome> worst;
        if (!limit.not_assessed) {
            for (auto& verdict : judge_limit(limits, i, qualification, catalogue, evaluation, trials)) {
                verdict.limit = i;
                verdict.unit = limit.plus_minus ? "lx" : limit.unit;
                worst = std::max(worst.value_or(Outcome::pass), verdict.outcome);
                all.verdicts.push_back(std::move(verdict));
            }
            all.overall = std::max(all.overall.value_or(Outcome::pass), *worst);
        }
        all.by_limit.push_back(worst);
    }
    return all;
}

}  // namespace luxdossier::conformity
