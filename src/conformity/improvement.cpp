#include "conformity/improvement.hpp"

#include "uncertainty/propagation.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::conformity {
namespace {

constexpr double share_worth_telling = 0.01;

/// Largest part of its tolerance distance that a guard band may fill is 1: the least of distance over width.
std::optional<double> permitted_share(const model::Verdict& verdict)
{
    std::optional<double> least;
    const auto look_at = [&](double distance, double width) {
        if (width > 0)
            least = std::min(least.value_or(distance / width), distance / width);
    };
    if (verdict.tolerance_lower && verdict.guard_lower)
        look_at(*verdict.value - *verdict.tolerance_lower, *verdict.guard_lower);
    if (verdict.tolerance_upper && verdict.guard_upper)
        look_at(*verdict.tolerance_upper - *verdict.value, *verdict.guard_upper);
    return least;
}

/// Largest factor below 1 on an input for which the relative variance is `wanted`; `own` is its contribution
/// squared and `cross` what its correlations add once, both relative to the variance.
std::optional<double> factor_for(double wanted, double own, double cross)
{
    const double kept = 1 - own - 2 * cross;
    const double discriminant = cross * cross - own * (kept - wanted);
    if (!(own > 0) || discriminant < 0)
        return std::nullopt;
    const double factor = (-cross + std::sqrt(discriminant)) / own;
    return factor >= 0 && factor < 1 ? std::optional(factor) : std::nullopt;
}

}  // namespace

std::optional<model::Improvement> improvement(const model::Evaluation& evaluation,
                                              const model::Verdict& verdict)
{
    if (!verdict.result || !verdict.value || verdict.outcome == model::Outcome::pass)
        return std::nullopt;
    const auto& result = evaluation.results[*verdict.result];
    const auto share = permitted_share(verdict);
    if (!result.node || !result.combined || !share || *share < 0 || *share >= 1)
        return std::nullopt;
    model::Improvement found;
    found.whole = *share;
    const auto budget = evaluation.budget(result);
    const double u = budget.combined.standard_uncertainty;
    for (const auto& line : budget.lines) {
        const double own = line.contribution * line.contribution / (u * u);
        const auto factor = factor_for(*share * *share, own, line.share - own);
        if (factor || line.share >= share_worth_telling)
            found.inputs.push_back({line.input, line.share, factor});
    }
    return found;
}

}  // namespace luxdossier::conformity
