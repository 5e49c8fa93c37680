#pragma once

#include "model/qualification.hpp"

#include <string>
#include <vector>

namespace luxdossier::model {

/// Deviations from the method: those that the header states, and those that the runs show.
[[nodiscard]] std::vector<std::string> deviations_of(const Qualification& qualification);

/// How the parts of a run were joined and what stayed over, in words: "joined by time within 1 s: 50 of 100
/// rows of sensor.csv and 50 of 50 rows of meter.csv belong together, at most 0.4 s apart"; empty for a run
/// of one file.
[[nodiscard]] std::string join_words(const Run& run);

}  // namespace luxdossier::model
