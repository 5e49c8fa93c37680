#pragma once

#include "conformity/trials.hpp"
#include "model/evaluation.hpp"
#include "model/limits.hpp"
#include "model/verdict.hpp"

#include <vector>

namespace luxdossier::conformity {

/// Results that a limit selects: metric, `where`, mask range (indices into Evaluation::results, ascending). A
/// result for which the limit states no bound (an empty mask cell, an outermost crossing under a lower limit)
/// is not selected.
[[nodiscard]] std::vector<std::size_t> selected_results(const model::Limit& limit,
                                                        const model::Evaluation& evaluation);

/// Decides every limit on every result that it selects, and says what is missing and what would have to
/// improve.
///
/// Results that are judged by trials have the guard bands of the Monte Carlo interval and the share of trials
/// as conformance probability; joint probabilities come from `trials` (null: none were made).
///
/// Units:  verdicts are in the limit's unit, lx for plus_minus.
/// Errors: std::domain_error for a limit whose metric is not in the catalogue.
/// Source: JCGM 106:2012, 8.2 and 8.3; ILAC-G8:09/2019, 4.2.
[[nodiscard]] model::Verdicts judge(const model::Qualification& qualification, const model::Limits& limits,
                                    const model::MetricCatalogue& catalogue,
                                    const model::Evaluation& evaluation, const Trials* trials = nullptr);

}  // namespace luxdossier::conformity
