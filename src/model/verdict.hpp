#pragma once

#include "uncertainty/graph.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::model {

/// In the order of severity: the overall outcome is the greatest.
enum class Outcome { pass, conditional_pass, not_decided, conditional_fail, fail };
[[nodiscard]] std::string_view
outcome_text(Outcome outcome);  ///< "pass", "conditional pass", "not decided" ...
[[nodiscard]] std::string_view
outcome_key(Outcome outcome);  ///< "pass", "conditional_pass" ...: as records write it

/// How much smaller the uncertainty must be for a result whose value lies within the tolerance to be
/// accepted.
struct Improvement {
    /// Factor on the standard uncertainty of one input, all others kept; absent: not by this input alone.
    struct OfInput {
        uncertainty::Input input;
        double share = 0;  ///< of the variance
        std::optional<double> factor;
    };
    double whole = 0;             ///< factor on the combined standard uncertainty; 0: only without any
    std::vector<OfInput> inputs;  ///< largest contribution first; those that can do it, or matter
};

/// Decision of one limit on one result. Numbers are in the limit's unit, lx for plus_minus.
struct Verdict {
    std::size_t limit = 0;              ///< index into Limits::limits
    std::optional<std::size_t> result;  ///< index into Evaluation::results; absent: expected but not there
    std::string expected;               ///< where there is no result: the combination that was expected
    Outcome outcome = Outcome::not_decided;
    std::string reason;     ///< of not decided, and where a rounded value equals its limit
    std::string by_trials;  ///< why the interval of the trials was judged, where it was
    std::optional<double> value, expanded_uncertainty;
    /// How far the interval of trials reaches below and above the value, where it was judged; else U is.
    std::optional<double> width_below, width_above;
    std::optional<double> tolerance_lower, tolerance_upper;
    std::optional<double> acceptance_lower, acceptance_upper;
    std::optional<double> guard_lower, guard_upper;  ///< widths
    std::optional<double> margin;  ///< distance to the nearer acceptance limit, positive inside
    std::optional<double> conformance_probability;
    std::optional<double> capability;  ///< C_m = T/(4 u), two-sided limits only
    std::string unit;
    std::optional<Improvement> improvement;  ///< where the guard band alone keeps the result from passing
};

/// Both reasons of a verdict in one line.
[[nodiscard]] std::string reason_text(const Verdict& verdict);

/// Probability that several requirements hold together, from trials that they share.
struct Joint {
    std::string sample;  ///< empty: results without a sample, or all
    std::size_t requirements = 0;
    double probability = 0;
    double product = 0;  ///< of the single ones, as if nothing were shared
    std::size_t trials = 0;
};

struct Verdicts {
    std::vector<Verdict> verdicts;  ///< in the order of the limits, then of the results
    /// Worst outcome per limit; empty where not assessed.
    std::vector<std::optional<Outcome>> by_limit;
    std::optional<Outcome> overall;  ///< absent: no limits
    std::vector<Joint> joint = {};   ///< one a sample, the whole last; empty without Monte Carlo
};

}  // namespace luxdossier::model
