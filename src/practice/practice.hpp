#pragma once

#include "model/evaluation.hpp"
#include "model/limits.hpp"

#include <string>
#include <vector>

namespace luxdossier::practice {

struct Findings {
    std::vector<model::Remark> remarks;          ///< the evaluation's own included, in a fixed order
    std::vector<std::string> rules_not_applied;  ///< remarks that need limits, where there are none
};

/// What the data say about bench practice. Remarks that block mark the results they touch as not decided
/// (reason "remark-id: what was seen"), unless the header accepts them with a reason.
[[nodiscard]] Findings examine(const model::Qualification& qualification, const model::Limits* limits,
                               model::Evaluation& evaluation);

}  // namespace luxdossier::practice
