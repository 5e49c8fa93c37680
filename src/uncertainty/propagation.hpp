#pragma once

#include "uncertainty/graph.hpp"

#include <vector>

namespace luxdossier::uncertainty {

/// One line of an uncertainty budget (JCGM 100:2008, Table H.1 shows the form).
struct BudgetLine {
    Input input;
    double sensitivity = 0;   ///< c_i
    double contribution = 0;  ///< |c_i| u(x_i), in the unit of the result
    double share =
        0;  ///< c_i sum_j c_j u(x_i, x_j) / u_c^2, a fraction; shares add up to 1; may be negative in a group
};

/// A result with its combined and expanded uncertainty.
struct Combined {
    double value = 0;
    double standard_uncertainty = 0;
    double degrees_of_freedom = infinite;  ///< effective, truncated to an integer (infinite above 1e9)
    double coverage_probability = 0;
    double coverage_factor = 0;
    double expanded_uncertainty = 0;
    /// The first order vanishes; u is that of the second-order term, degrees of freedom are infinite.
    bool is_second_order = false;
};

struct Budget {
    Combined combined;
    std::vector<BudgetLine> lines;  ///< sorted by contribution, largest first; ties in order of identity
};

/// Law of propagation of uncertainty, first order, with groups of correlated inputs (JCGM
/// 100:2008, 5.1.2, 5.2.2), effective degrees of freedom by Welch-Satterthwaite (G.4.1): each group is one
/// term, inputs with u = 0 are left out, nu_eff is multiplied by 1 + 1e-9 before it is truncated. Domain: 0 <
/// coverage_probability < 1. Where all sensitivities to uncertain inputs vanish, u is that of the
/// second-order term (5.1.2, note), shares are 0. Where a value or sensitivity is not finite, the uncertainty
/// is NaN.
[[nodiscard]] Budget propagate(const Graph& graph, Node result, double coverage_probability);
/// The same budget again, of a result whose combined uncertainty is known: a second-order term costs as many
/// evaluations as it has pairs of inputs, and is taken from there.
[[nodiscard]] Budget propagate(const Graph& graph, Node result, const Combined& known);

/// Covariance of two results through the inputs and groups that they share (JCGM 100:2008, F.1.2.3, eq. F.2).
[[nodiscard]] double covariance(const Graph& graph, Node a, Node b);

}  // namespace luxdossier::uncertainty
