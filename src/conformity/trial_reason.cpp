#include "conformity/trial_reason.hpp"

#include "uncertainty/propagation.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::conformity {
namespace {

using uncertainty::Distribution;

double degrees_of_freedom_of(const uncertainty::Graph& graph, uncertainty::Input input)
{
    const auto group = graph.group_of(input);
    return group ? graph.groups()[*group].degrees_of_freedom : graph.inputs()[input.index].degrees_of_freedom;
}

/// What of a budget makes the trials' interval longer (fewest degrees of freedom) or shorter (share of inputs
/// with bounds) than a normal or t-distribution of the whole.
std::string cause(const uncertainty::Budget& budget, const uncertainty::Graph& graph, bool is_longer)
{
    // A t of one degree of freedom shows in the tails from a share of 1/200 of the variance on.
    constexpr double share_that_shows = 0.005, few = 9.0, share_that_prevails = 0.3;
    double fewest = uncertainty::infinite, bounded = 0;
    std::string symbol;
    for (const auto& line : budget.lines) {
        const auto& input = graph.inputs()[line.input.index];
        const bool has_tails =
            input.distribution == Distribution::normal || input.distribution == Distribution::student_t;
        if (!has_tails)
            bounded += line.share;
        const auto nu = degrees_of_freedom_of(graph, line.input);
        if (has_tails && line.share >= share_that_shows && nu < fewest) {
            fewest = nu;
            symbol = input.symbol;
        }
    }
    if (is_longer && fewest <= few) {
        const auto printed = fmt::format("{:.2g}", fewest);
        return fmt::format(", as {} of {} effective degree{} of freedom has long tails", symbol, printed,
                           printed == "1" ? "" : "s");
    }
    if (!is_longer && bounded >= share_that_prevails)
        return fmt::format(", as inputs with bounds make {:.0f} % of the variance", 100 * bounded);
    return {};
}

}  // namespace

std::string trial_reason(const model::Evaluation& evaluation, const model::Result& result)
{
    if (!result.is_judged_by_trials)
        return {};
    const auto& trials = *result.monte_carlo;
    const double length = trials.interval->upper - trials.interval->lower;
    const double expected = 2 * result.combined->expanded_uncertainty;
    auto text =
        fmt::format("judged by the interval of the trials: the first order is not validated, its ends differ "
                    "by up to {:.1f} times what one digit of u permits",
                    std::max(trials.validation->d_low, trials.validation->d_high) / trials.validation->delta);
    const double change = 100 * std::abs(length - expected) / expected;
    if (!(change >= 1))
        return text + "; the trials lie unevenly about the value";
    text += fmt::format("; the interval is {:.0f} % {}", change, length > expected ? "longer" : "shorter");
    if (result.node)
        text += cause(evaluation.budget(result), evaluation.graph, length > expected);
    return text;
}

}  // namespace luxdossier::conformity
