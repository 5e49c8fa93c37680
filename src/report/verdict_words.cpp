#include "report/numbers.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

// Tolerance that was computed (compound limits, masks) has many digits: print it to the place of U.
std::string computed_bound(double bound, const model::Verdict& verdict)
{
    constexpr std::size_t longest_stated = 7;  // characters of the shortest text that reads back
    if (fmt::format("{}", bound).size() <= longest_stated)
        return stated_text(bound);
    if (!verdict.expanded_uncertainty || !(*verdict.expanded_uncertainty > 0))
        return significant_text(bound, 4);
    return number_text(bound, decimals_of_uncertainty(*verdict.expanded_uncertainty));
}

// One length of the verdict's scale: the tolerance, the size of a one-sided limit, or twice what is seen at a
// limit of 0.
double scale_of(const model::Verdict& verdict)
{
    if (verdict.tolerance_lower && verdict.tolerance_upper) {
        const double width = *verdict.tolerance_upper - *verdict.tolerance_lower;
        return width > 0 ? width : std::max(1e-300, std::abs(*verdict.tolerance_upper));
    }
    const double limit = verdict.tolerance_lower.value_or(verdict.tolerance_upper.value_or(0));
    if (limit != 0)
        return std::abs(limit);
    return std::max(
        {2 * std::abs(verdict.value.value_or(0)), 2 * verdict.expanded_uncertainty.value_or(0), 1e-300});
}

}  // namespace

std::string verdict_value_text(const model::Verdict& verdict)
{
    if (!verdict.value)
        return "no value";
    if (!verdict.expanded_uncertainty)
        return with_unit(significant_text(*verdict.value, 3), verdict.unit);
    const auto rounded = rounded_result(*verdict.value, *verdict.expanded_uncertainty);
    return fmt::format("{} ± {}", rounded.value, with_unit(rounded.uncertainty, verdict.unit));
}

std::string margin_text(const model::Verdict& verdict)
{
    if (!verdict.margin)
        return "";
    const bool has_uncertainty = verdict.expanded_uncertainty && *verdict.expanded_uncertainty > 0;
    const std::string number =
        has_uncertainty ? number_text(*verdict.margin, decimals_of_uncertainty(*verdict.expanded_uncertainty))
                        : significant_text(*verdict.margin, 2);
    return with_unit(number, verdict.unit);
}

std::string rule_sentence(const model::DecisionRule& rule, double coverage_probability)
{
    const std::string multiple = rule.guard_band_multiple == 1.0
                                     ? "U"
                                     : fmt::format("{}\u202fU", stated_text(rule.guard_band_multiple));
    // Of a normal distribution; few degrees of freedom with their larger k stay near it.
    const double risk = model::largest_specific_risk(rule, coverage_probability, uncertainty::infinite);
    const std::string percent = fmt::format("{}\u202f%", significant_text(100 * risk, 2));
    switch (rule.kind) {
    case model::RuleKind::simple_acceptance:
        return fmt::format(
            "simple acceptance: a result passes where its value lies inside the tolerance limits or "
            "on them; no guard band; the specific risk of a wrong decision is up to {} for a value "
            "on a limit",
            percent);
    case model::RuleKind::guarded_acceptance:
        return fmt::format(
            "guarded acceptance: a result passes where its value lies inside the acceptance limits, "
            "which stand inside the tolerance limits by a guard band of {}; otherwise it is not shown "
            "to conform and fails; the specific risk of a wrong acceptance is at most about {}",
            multiple, percent);
    case model::RuleKind::four_outcome:
        return fmt::format(
            "four outcomes with a guard band of {}: pass inside the acceptance limits; conditional "
            "pass between acceptance and tolerance limit; conditional fail beyond the tolerance limit "
            "by no more than the guard band; fail beyond that; the specific risk of a pass is at most "
            "about {}, of a conditional pass up to 50\u202f%",
            multiple, percent);
    }
    return {};
}

model::DecisionRule rule_of(const model::Dossier& dossier, const model::Limit& limit)
{
    return limit.rule.value_or(dossier.limits ? dossier.limits->rule : model::DecisionRule{});
}

std::optional<double> relative_margin(const model::Verdict& verdict)
{
    if (!verdict.margin)
        return std::nullopt;
    const bool two_sided = verdict.tolerance_lower && verdict.tolerance_upper;
    return *verdict.margin / (two_sided ? scale_of(verdict) / 2 : scale_of(verdict));
}

std::vector<std::size_t> verdicts_of(const model::Dossier& dossier, std::size_t limit)
{
    std::vector<std::size_t> indices;
    for (std::size_t i = 0; i < dossier.verdicts.verdicts.size(); ++i) {
        if (dossier.verdicts.verdicts[i].limit == limit)
            indices.push_back(i);
    }
    return indices;
}

std::optional<std::size_t> worst_verdict(const model::Dossier& dossier,
                                         const std::vector<std::size_t>& verdicts)
{
    const auto key = [&](std::size_t index) {
        const auto& verdict = dossier.verdicts.verdicts.at(index);
        const double margin = relative_margin(verdict).value_or(std::numeric_limits<double>::infinity());
        return std::pair(-static_cast<int>(verdict.outcome), margin);
    };
    const auto worst = std::ranges::min_element(verdicts, {}, key);
    return worst == verdicts.end() ? std::nullopt : std::optional(*worst);
}

std::optional<std::size_t> neediest_verdict(const model::Dossier& dossier, std::size_t limit)
{
    std::optional<std::size_t> neediest;
    const auto& all = dossier.verdicts.verdicts;
    for (const auto index : verdicts_of(dossier, limit))
        if (all[index].improvement &&
            (!neediest || all[index].improvement->whole < all[*neediest].improvement->whole))
            neediest = index;
    return neediest;
}

std::string verdict_subject(const model::Dossier& dossier, const model::Verdict& verdict)
{
    if (!verdict.result)
        return verdict.expected.empty() ? "no result" : verdict.expected;
    return conditions_phrase(dossier.evaluation.results.at(*verdict.result));
}

std::string verdict_tolerance_text(const model::Verdict& verdict)
{
    const auto bound = [&](double value) { return with_unit(computed_bound(value, verdict), verdict.unit); };
    const auto& lower = verdict.tolerance_lower;
    const auto& upper = verdict.tolerance_upper;
    if (lower && upper)
        return *lower == -*upper ? "±" + bound(*upper)
                                 : fmt::format("{} to {}", computed_bound(*lower, verdict), bound(*upper));
    if (lower)
        return "≥ " + bound(*lower);
    return upper ? "≤ " + bound(*upper) : "";
}

StripCell strip_of(const model::Verdict& verdict)
{
    StripCell strip;
    const auto& lower = verdict.tolerance_lower;
    const auto& upper = verdict.tolerance_upper;
    if (!lower && !upper)
        return strip;
    const double scale = scale_of(verdict);
    const double origin = lower ? *lower : *upper - scale;
    const auto place = [&](double value) { return (value - origin) / scale; };
    const auto placed = [&](const std::optional<double>& value) {
        return value ? std::optional(place(*value)) : std::nullopt;
    };
    strip.lower = placed(lower);
    strip.upper = placed(upper);
    // Without a guard band the acceptance limits are the tolerance limits: nothing to hatch.
    if (verdict.guard_lower.value_or(0) > 0 || verdict.guard_upper.value_or(0) > 0) {
        strip.acceptance_lower = placed(verdict.acceptance_lower);
        strip.acceptance_upper = placed(verdict.acceptance_upper);
    }
    strip.value = placed(verdict.value);
    if (verdict.value && verdict.expanded_uncertainty) {
        const double expanded = *verdict.expanded_uncertainty;
        strip.whisker_lower = place(*verdict.value - verdict.width_below.value_or(expanded));
        strip.whisker_upper = place(*verdict.value + verdict.width_above.value_or(expanded));
    }
    return strip;
}

}  // namespace luxdossier::report
