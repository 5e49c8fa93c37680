#pragma once

#include "model/evaluation.hpp"

#include <string>

namespace luxdossier::conformity {

/// Why the interval of the trials is judged in the place of the first order, how much longer or shorter it
/// is, and which inputs make it so where the budget tells: a mean of few degrees of freedom, or bounded
/// inputs that prevail. Empty where the first order is judged.
[[nodiscard]] std::string trial_reason(const model::Evaluation& evaluation, const model::Result& result);

}  // namespace luxdossier::conformity
