#include "workbook/decision.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::workbook {

using model::Outcome;
using model::RuleKind;

namespace {

bool reaches(double greater, double lesser, double scale)
{
    return greater >= lesser - 1e-9 * std::max({std::abs(greater), std::abs(lesser), std::abs(scale)});
}

/// Inside the tolerance moved outward by so many guard bands (-1: the acceptance interval).
bool inside(const Judged& judged, double times, const Decision& guard)
{
    return (!judged.lower ||
            reaches(judged.value, *judged.lower - times * guard.guard_lower, *judged.lower)) &&
           (!judged.upper || reaches(*judged.upper + times * guard.guard_upper, judged.value, *judged.upper));
}

Outcome without_uncertainty(const Judged& judged, const model::DecisionRule& rule)
{
    if (rule.kind == RuleKind::simple_acceptance || rule.guard_band_multiple == 0)
        return inside(judged, 0, {}) ? Outcome::pass : Outcome::fail;
    const bool fails = !inside(judged, 0, {}) && rule.kind == RuleKind::guarded_acceptance;
    return fails ? Outcome::fail : Outcome::not_decided;
}

Outcome with_uncertainty(const Judged& judged, const Decision& guard, const model::DecisionRule& rule)
{
    const bool within_guard = inside(judged, 1, guard);
    if (judged.lower && judged.upper &&
        !reaches(*judged.upper - guard.guard_upper, *judged.lower + guard.guard_lower,
                 std::max(std::abs(*judged.lower), std::abs(*judged.upper))))
        return within_guard ? Outcome::not_decided : Outcome::fail;
    if (inside(judged, -1, guard))
        return Outcome::pass;
    if (rule.kind != RuleKind::four_outcome)
        return Outcome::fail;
    if (inside(judged, 0, guard))
        return Outcome::conditional_pass;
    return within_guard ? Outcome::conditional_fail : Outcome::fail;
}

/// Of an upper bound: what holds for every smaller value stands.
Outcome of_bound(const Judged& judged, Outcome outcome)
{
    const bool passes = !judged.lower && outcome == Outcome::pass;
    const bool fails = outcome == Outcome::fail && judged.lower && judged.value < *judged.lower;
    return passes || fails ? outcome : Outcome::not_decided;
}

}  // namespace

Decision decide(const Judged& judged, const model::DecisionRule& rule)
{
    Decision result;
    if (judged.expanded_uncertainty && rule.kind != RuleKind::simple_acceptance) {
        const double u = *judged.expanded_uncertainty, times = rule.guard_band_multiple;
        result.guard_lower = times * judged.width_below.value_or(u);
        result.guard_upper = times * judged.width_above.value_or(u);
    }
    const bool has_interval = judged.expanded_uncertainty || rule.kind == RuleKind::simple_acceptance ||
                              rule.guard_band_multiple == 0;
    if (has_interval && judged.lower) {
        result.acceptance_lower = *judged.lower + result.guard_lower;
        result.margin = judged.value - *result.acceptance_lower;
    }
    if (has_interval && judged.upper) {
        result.acceptance_upper = *judged.upper - result.guard_upper;
        const double distance = *result.acceptance_upper - judged.value;
        result.margin = result.margin ? std::min(*result.margin, distance) : distance;
    }
    result.outcome = judged.expanded_uncertainty ? with_uncertainty(judged, result, rule)
                                                 : without_uncertainty(judged, rule);
    if (judged.upper_bound)
        result.outcome = of_bound(judged, result.outcome);
    return result;
}

}  // namespace luxdossier::workbook
