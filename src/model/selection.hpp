#pragma once

#include "model/evaluation.hpp"
#include "model/limits.hpp"

namespace luxdossier::model {

/// Whether one clause of `where` admits a result: by sample or condition, as text or within a range (ends
/// included, to 1e-9 relative).
[[nodiscard]] bool selects(const Selector& selector, const Result& result);

/// Whether a limit's metric and all of its `where` admit a result. A mask admits the angles that it spans.
[[nodiscard]] bool selects(const Limit& limit, const Result& result);

/// Value of a condition that is a quantity, in its record unit; empty where it is not there or is text.
[[nodiscard]] std::optional<double> condition_number(const Conditions& conditions, const std::string& name);

/// Text of a condition as ids print it; empty where it is not there.
[[nodiscard]] std::string condition_text(const Conditions& conditions, const std::string& name);

}  // namespace luxdossier::model
