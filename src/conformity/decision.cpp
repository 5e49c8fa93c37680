#include "conformity/decision.hpp"

#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

#include <fmt/format.h>

namespace luxdossier::conformity {
namespace {

using model::Outcome;
using model::RuleKind;

constexpr double on_a_limit = 1e-9;

/// Bounds of one zone. Whether a value is on a bound is told by the size of the tolerance limit that the
/// bound comes from: an acceptance limit near 0 is the difference of two larger numbers.
struct Zone {
    std::optional<double> lower, upper;
};

Zone widened(const Tolerance& tolerance, double below, double above)
{
    Zone zone;
    if (tolerance.lower)
        zone.lower = *tolerance.lower - below;
    if (tolerance.upper)
        zone.upper = *tolerance.upper + above;
    return zone;
}

Zone widened(const Tolerance& tolerance, double by)
{
    return widened(tolerance, by, by);
}

bool holds(const Zone& zone, const Tolerance& tolerance, double value)
{
    const auto above = !zone.lower || value >= *zone.lower || is_on(value, *zone.lower, *tolerance.lower);
    const auto below = !zone.upper || value <= *zone.upper || is_on(value, *zone.upper, *tolerance.upper);
    return above && below;
}

bool is_empty(const Zone& zone, const Tolerance& tolerance)
{
    return zone.lower && zone.upper && *zone.lower > *zone.upper &&
           !is_on(*zone.lower, *zone.upper, std::max(std::abs(*tolerance.lower), std::abs(*tolerance.upper)));
}

Outcome four_outcomes(double value, const Tolerance& tolerance, const Zone& acceptance, const Zone& beyond)
{
    if (holds(acceptance, tolerance, value))
        return Outcome::pass;
    if (holds(widened(tolerance, 0), tolerance, value))
        return Outcome::conditional_pass;
    return holds(beyond, tolerance, value) ? Outcome::conditional_fail : Outcome::fail;
}

/// Decimals of a reported value: U has two significant digits (JCGM 100:2008, 7.2.6). Negative: tens,
/// hundreds ...
int reported_decimals(double expanded_uncertainty)
{
    const auto text = fmt::format("{:.1e}", expanded_uncertainty);  // rounds first: 0.0996 is 1.0e-01
    return 1 - std::stoi(text.substr(text.find('e') + 1));
}

/// The value to that many decimals; a negative number of them gives the count of tens, hundreds ...
std::string reported(double value, int decimals)
{
    const auto step = std::pow(10.0, std::max(0, -decimals));
    const auto text = fmt::format("{:.{}f}", value / step, std::max(0, decimals));
    const bool is_minus_zero = text.find_first_not_of("-0.") == std::string::npos && text.front() == '-';
    return is_minus_zero ? text.substr(1) : text;
}

/// Says so where the reported value looks as if it were on a limit while it lies on one side of it.
std::string explain_rounding(const Judged& judged, const std::optional<double>& limit,
                             std::string_view limit_name)
{
    if (!limit || !judged.standard_uncertainty || !(judged.expanded_uncertainty > 0) ||
        is_on(judged.value, *limit, *limit))
        return {};
    const auto decimals = reported_decimals(judged.expanded_uncertainty);
    if (reported(judged.value, decimals) != reported(*limit, decimals))
        return {};
    return fmt::format("rounded as reported, the value equals the {} limit; unrounded it lies {} it",
                       limit_name, judged.value > *limit ? "above" : "below");
}

std::string explain_rounding(const Judged& judged, const Tolerance& tolerance, const model::Verdict& verdict)
{
    for (auto text : {explain_rounding(judged, tolerance.lower, "lower tolerance"),
                      explain_rounding(judged, tolerance.upper, "upper tolerance"),
                      explain_rounding(judged, verdict.acceptance_lower, "lower acceptance"),
                      explain_rounding(judged, verdict.acceptance_upper, "upper acceptance")})
        if (!text.empty())
            return text;
    return {};
}

/// No uncertainty is given: without a guard band the value is compared alone; with one of unknown width, only
/// a value outside the tolerance fails a rule that asks for more than the tolerance.
void decide_without_uncertainty(const Judged& judged, const Tolerance& tolerance,
                                const model::DecisionRule& rule, model::Verdict& verdict)
{
    const auto inside = holds(widened(tolerance, 0), tolerance, judged.value);
    if (rule.kind == RuleKind::simple_acceptance || rule.guard_band_multiple == 0) {
        verdict.acceptance_lower = tolerance.lower;
        verdict.acceptance_upper = tolerance.upper;
        verdict.outcome = inside ? Outcome::pass : Outcome::fail;
        verdict.reason = "no uncertainty is given for this result: the value alone was compared";
    } else if (!inside && rule.kind == RuleKind::guarded_acceptance) {
        verdict.outcome = Outcome::fail;
        verdict.reason =
            "outside the tolerance; no uncertainty is given for this result, and none could change that";
    } else {
        verdict.outcome = Outcome::not_decided;
        verdict.reason =
            "no uncertainty is given for this result, so that the guard band of the rule has no width";
    }
}

/// Of a value that is only an upper bound: what holds for every smaller value stands, the rest is not
/// decided.
void keep_what_a_bound_tells(const Judged& judged, const Tolerance& tolerance, model::Verdict& verdict)
{
    const bool passes = !tolerance.lower && verdict.outcome == Outcome::pass;
    const bool fails = verdict.outcome == Outcome::fail && tolerance.lower && judged.value < *tolerance.lower;
    if (passes || fails || verdict.outcome == Outcome::not_decided)
        return;
    verdict.outcome = Outcome::not_decided;
    verdict.reason = "the value is an upper bound, and smaller values would be judged otherwise";
}

void set_margin(const Judged& judged, model::Verdict& verdict)
{
    double margin = uncertainty::infinite;
    if (verdict.acceptance_lower)
        margin = std::min(margin, judged.value - *verdict.acceptance_lower);
    if (verdict.acceptance_upper)
        margin = std::min(margin, *verdict.acceptance_upper - judged.value);
    if (std::isfinite(margin))
        verdict.margin = margin;
}

void decide_with_uncertainty(const Judged& judged, const Tolerance& tolerance,
                             const model::DecisionRule& rule, model::Verdict& verdict)
{
    // w_L = m (y - y_lo) at the lower limit, w_U = m (y_hi - y) at the upper one.
    const auto multiple = rule.kind == RuleKind::simple_acceptance ? 0.0 : rule.guard_band_multiple;
    const auto guard_lower = multiple * judged.width_below.value_or(judged.expanded_uncertainty);
    const auto guard_upper = multiple * judged.width_above.value_or(judged.expanded_uncertainty);
    const auto acceptance = widened(tolerance, -guard_lower, -guard_upper);
    verdict.acceptance_lower = acceptance.lower;
    verdict.acceptance_upper = acceptance.upper;
    if (tolerance.lower)
        verdict.guard_lower = guard_lower;
    if (tolerance.upper)
        verdict.guard_upper = guard_upper;
    verdict.conformance_probability = judged.probability.value_or(conformance_probability(judged, tolerance));
    if (tolerance.lower && tolerance.upper && *judged.standard_uncertainty > 0)
        verdict.capability = (*tolerance.upper - *tolerance.lower) / (4 * *judged.standard_uncertainty);

    const auto outcome =
        four_outcomes(judged.value, tolerance, acceptance, widened(tolerance, guard_lower, guard_upper));
    if (is_empty(acceptance, tolerance)) {
        verdict.outcome = outcome == Outcome::fail ? Outcome::fail : Outcome::not_decided;
        verdict.reason =
            outcome == Outcome::fail
                ? "outside the tolerance by more than the guard band"
                : "the guard bands leave no acceptance interval: the uncertainty is too large for this "
                  "tolerance";
        return;
    }
    verdict.reason = explain_rounding(judged, tolerance, verdict);
    verdict.outcome = outcome;
    if (rule.kind == RuleKind::four_outcome || outcome == Outcome::pass)
        return;
    verdict.outcome = Outcome::fail;
    if (outcome == Outcome::conditional_pass)
        verdict.reason = "not shown to conform: inside the tolerance, but within the guard band" +
                         (verdict.reason.empty() ? std::string{} : "; " + verdict.reason);
}

}  // namespace

bool is_on(double value, double limit, double scale)
{
    return value == limit || std::abs(value - limit) <=
                                 on_a_limit * std::max({std::abs(value), std::abs(limit), std::abs(scale)});
}

double conformance_probability(const Judged& judged, const Tolerance& tolerance)
{
    const auto u = judged.standard_uncertainty.value_or(0);
    if (!(u > 0))
        return holds(widened(tolerance, 0), tolerance, judged.value) ? 1 : 0;
    const auto nu = judged.degrees_of_freedom;
    const auto below = [&](double limit) {
        return uncertainty::t_probability((limit - judged.value) / u, nu);
    };
    const auto above = [&](double limit) {
        return uncertainty::t_probability((judged.value - limit) / u, nu);
    };
    if (!tolerance.lower)
        return tolerance.upper ? below(*tolerance.upper) : 1;
    if (!tolerance.upper)
        return above(*tolerance.lower);
    // Differences of upper tails where the value lies below the tolerance, of lower tails elsewhere: no
    // digits are lost.
    if (judged.value < *tolerance.lower)
        return above(*tolerance.lower) - above(*tolerance.upper);
    return below(*tolerance.upper) - below(*tolerance.lower);
}

model::Verdict decide(const Judged& judged, const Tolerance& tolerance, const model::DecisionRule& rule)
{
    model::Verdict verdict;
    verdict.value = judged.value;
    verdict.tolerance_lower = tolerance.lower;
    verdict.tolerance_upper = tolerance.upper;
    if (judged.standard_uncertainty) {
        verdict.expanded_uncertainty = judged.expanded_uncertainty;
        verdict.width_below = judged.width_below;
        verdict.width_above = judged.width_above;
        decide_with_uncertainty(judged, tolerance, rule, verdict);
    } else {
        decide_without_uncertainty(judged, tolerance, rule, verdict);
    }
    set_margin(judged, verdict);
    if (judged.upper_bound)
        keep_what_a_bound_tells(judged, tolerance, verdict);
    return verdict;
}

}  // namespace luxdossier::conformity
