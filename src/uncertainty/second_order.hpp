#pragma once

#include "uncertainty/graph.hpp"

namespace luxdossier::uncertainty {

/// Variance of a result from its second derivatives alone, tr((H S)^2)/2 with the Hessian H and the
/// covariance S of the inputs: for independent inputs 1/2 sum_i sum_j (d2f/dx_i dx_j)^2 u_i^2 u_j^2, the
/// first part of the term that JCGM 100:2008, 5.1.2, note, adds; its other part has a first derivative as
/// factor. For results whose first order vanishes. Differences over +-u of each input stand for the
/// derivatives: exact for a quadratic. 0 where no input upstream is uncertain; NaN where a difference is not
/// finite.
[[nodiscard]] double second_order_variance(const Graph& graph, Node result);

}  // namespace luxdossier::uncertainty
