#pragma once

#include "model/evaluation.hpp"
#include "model/limits.hpp"
#include "model/verdict.hpp"

#include <vector>

namespace luxdossier::conformity {

/// Results that a limit selects: metric, `where`, mask range (indices into Evaluation::results, ascending).
[[nodiscard]] std::vector<std::size_t> selected_results(const model::Limit& limit, const model::Evaluation& evaluation);

/// Decides every limit on every result that it selects, and says what is missing.
[[nodiscard]] model::Verdicts judge(const model::Qualification& qualification, const model::Limits& limits,
                                    const model::MetricCatalogue& catalogue, const model::Evaluation& evaluation);

}  // namespace luxdossier::conformity
