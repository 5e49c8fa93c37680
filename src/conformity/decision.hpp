#pragma once

#include "model/limits.hpp"
#include "model/verdict.hpp"
#include "uncertainty/graph.hpp"

#include <optional>
#include <string>

namespace luxdossier::conformity {

/// Tolerance limits of one result; an absent one is no limit on that side.
struct Tolerance {
    std::optional<double> lower, upper;
};

/// What is judged: a value with its uncertainty in the unit of the tolerance. No `standard_uncertainty`: none
/// is given.
struct Judged {
    double value = 0;
    std::optional<double> standard_uncertainty;
    double expanded_uncertainty = 0;
    double degrees_of_freedom = uncertainty::infinite;
    bool upper_bound = false;  ///< the value is only known not to be exceeded
    /// From the interval of the Monte Carlo method where that is judged: y_hi - y, y - y_lo, and the share of
    /// trials within the tolerance. Otherwise U on both sides, and Student's t.
    std::optional<double> width_above = {}, width_below = {}, probability = {};
};

/// True where `value` is on `limit`: they differ by at most 1e-9 of the larger of |value|, |limit| and
/// `scale`.
[[nodiscard]] bool is_on(double value, double limit, double scale = 0);

/// Applies a decision rule. Fills the outcome, its reason and the numbers of a verdict; identities are left
/// to the caller.
///
/// Guard bands follow the coverage interval: w = multiple * U, none under simple acceptance. A value on a
/// limit is inside. Without a stated uncertainty only what no uncertainty could change is decided. Units:
/// those of the arguments, all alike. Source: JCGM 106:2012, 8.2 and 8.3; ILAC-G8:09/2019, 4.2.
[[nodiscard]] model::Verdict decide(const Judged& judged, const Tolerance& tolerance,
                                    const model::DecisionRule& rule);

/// Probability that the measurand lies within the tolerance, by Student's t scaled by u and shifted to the
/// value.
///
/// Source: JCGM 106:2012, 7.2 to 7.4; t in place of the normal distribution for finite degrees
/// of freedom.
[[nodiscard]] double conformance_probability(const Judged& judged, const Tolerance& tolerance);

}  // namespace luxdossier::conformity
