#pragma once

#include "model/limits.hpp"
#include "model/verdict.hpp"

#include <optional>

namespace luxdossier::workbook {

/// What the formulas of a verdict give. The workbook offers them only where they agree with the verdict that
/// was decided; this is the check, not a second place where the product decides.
struct Decision {
    model::Outcome outcome = model::Outcome::not_decided;
    double guard_lower = 0, guard_upper = 0;  ///< widths of the guard bands; 0 without an uncertainty
    std::optional<double> acceptance_lower, acceptance_upper, margin;
};
struct Judged {
    double value = 0;
    std::optional<double> expanded_uncertainty;
    std::optional<double> lower, upper;  ///< tolerance limits
    bool upper_bound = false;            ///< the value is only known not to be exceeded
    /// How far an interval of trials reaches; otherwise U on both sides.
    std::optional<double> width_below = {}, width_above = {};
};
[[nodiscard]] Decision decide(const Judged& judged, const model::DecisionRule& rule);

}  // namespace luxdossier::workbook
