#pragma once

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

/// Decides every limit on every result that it selects, and says what is missing.
///
/// Units:  verdicts are in the limit's unit, lx for plus_minus.
/// Errors: std::domain_error for a limit whose metric is not in the catalogue.
/// Source: JCGM 106:2012, 8.2 and 8.3; ILAC-G8:09/2019, 4.2 (clauses from memory).
[[nodiscard]] model::Verdicts judge(const model::Qualification& qualification, const model::Limits& limits,
                                    const model::MetricCatalogue& catalogue,
                                    const model::Evaluation& evaluation);

/// The largest probability that an item does not conform although the rule passes it, at one tolerance limit:
/// the item lies on its acceptance limit. Simple acceptance 0.5; w = U with k = 2 gives 0.023.
///
/// Domain: 0 < coverage_probability < 1; degrees_of_freedom > 0, infinite for a normal distribution.
/// Source: JCGM 106:2012, 8.3; ILAC-G8:09/2019, Table 1 (both from memory).
[[nodiscard]] double largest_specific_risk(const model::DecisionRule& rule, double coverage_probability,
                                           double degrees_of_freedom);

}  // namespace luxdossier::conformity
