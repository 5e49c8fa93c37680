#pragma once

#include "model/evaluation.hpp"
#include "model/limits.hpp"
#include "model/qualification.hpp"
#include "model/verdict.hpp"

#include <cstddef>
#include <map>
#include <optional>
#include <utility>
#include <vector>

namespace luxdossier::conformity {

/// What the trials of a Monte Carlo evaluation say of the limits.
struct Trials {
    /// Share of the trials of a result that lie within its tolerance, by (limit, result).
    std::map<std::pair<std::size_t, std::size_t>, double> within;
    std::vector<model::Joint> joint;
    [[nodiscard]] std::optional<double> probability(std::size_t limit, std::size_t result) const;
};

/// How far the trials go.
enum class TrialExtent {
    until_validated,  ///< stop where the first order is validated: its interval is then reported
    all_digits,       ///< every interval to its stated digits
};

/// Makes a Monte Carlo evaluation of all results that have a model, or of those alone that a limit selects
/// where the header asks for it: fills Result::monte_carlo and
/// is_judged_by_trials, adds remarks on results whose trials say less than asked for, and counts how often
/// the requirements of the limits are met, alone and together per sample and in all. Results that are not
/// decided are left out of the joint probabilities.
///
/// Source: JCGM 101:2008, clauses 7 and 8; JCGM 106:2012, 7.2.
[[nodiscard]] Trials evaluate_by_trials(const model::Qualification& qualification,
                                        const model::Limits* limits, model::Evaluation& evaluation,
                                        TrialExtent extent);

}  // namespace luxdossier::conformity
