#pragma once

#include "conformity/decision.hpp"
#include "model/evaluation.hpp"
#include "model/limits.hpp"
#include "model/qualification.hpp"

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::conformity {

/// Tolerance limits of one result under a limit, and why there are none where it cannot be said.
struct ToleranceOfResult {
    Tolerance tolerance;
    std::string undecided;
};

/// Tolerance limits of a result: plain bounds, the mask at its angle, or plus_minus at the evaluated
/// illuminance, which counts as a constant. Of several crossings the innermost has the lower limit only, the
/// outermost the upper one only. Empty where the limit states no bound for this result.
///
/// Units:  the limit's unit, lx for plus_minus.
[[nodiscard]] std::optional<ToleranceOfResult> tolerance_of(const model::Limit& limit,
                                                            const model::Result& result);

/// Whether `where` admits a declared id.
[[nodiscard]] bool admits(const model::Limit& limit, const std::string& condition, const std::string& id);

/// One combination of sample, configuration, source and level that has to have a result; an absent part is
/// not asked for.
struct Expected {
    std::optional<std::string> sample, configuration, source;
    std::optional<double> level_lx;
};
/// "sample S1, configuration bare, source led, level 100 lx"
[[nodiscard]] std::string expected_text(const Expected& expected);

/// Combinations that are expected and for which none of the selected results stands, in the order of the
/// header.
[[nodiscard]] std::vector<Expected> missing_combinations(const model::Limit& limit,
                                                         const model::Qualification& qualification,
                                                         const model::MetricEntry& metric,
                                                         const std::vector<const model::Result*>& selected);

}  // namespace luxdossier::conformity
