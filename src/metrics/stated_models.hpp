#pragma once

#include "metrics/bench.hpp"
#include "model/dossier.hpp"

namespace luxdossier::metrics {

/// Builds the user-stated measurement models on the shared graph, one result each. Inputs with the same
/// symbol and statement in several models are one input; so are groups of them that are stated alike.
///
/// Readings: mean, s/sqrt(n), n - 1 degrees of freedom; a resolution q that is stated adds q/sqrt(12) where
/// s < q/2; independent unless time-ordered. Readings observed together: covariance of the means from the
/// readings, one term with n - 1 (JCGM 100:2008, 5.2.3, H.2). Stated correlations: one group with the
/// smallest degrees of freedom of its members, as the guide gives no formula.
void evaluate_stated_models(Bench& bench);

/// What the report tells of them, as of a metric family.
[[nodiscard]] model::FamilyInfo stated_models_info(const model::Qualification& qualification);

}  // namespace luxdossier::metrics
