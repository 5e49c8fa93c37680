#pragma once

#include "model/evaluation.hpp"
#include "model/verdict.hpp"

#include <optional>

namespace luxdossier::conformity {

/// Improvement of a verdict that its guard band alone keeps from passing: the value is within the tolerance
/// limits, the guard band reaches beyond it. Absent for every other verdict, as less uncertainty would not
/// let it pass (the value lies outside) or is not missing.
///
/// The coverage factor and the correlations stay as they are; a result that is judged by trials is taken to
/// first order, scaled to its guard band. With c the contribution of an input and x that of its correlations,
/// the variance is V - c^2 - 2 x + c^2 f^2 + 2 x f for the factor f. Inputs of less than 1 % of the variance
/// that cannot do it alone are left out.
///
/// Source: JCGM 100:2008, eq. (16); JCGM 106:2012, 8.3.
[[nodiscard]] std::optional<model::Improvement> improvement(const model::Evaluation& evaluation,
                                                            const model::Verdict& verdict);

}  // namespace luxdossier::conformity
