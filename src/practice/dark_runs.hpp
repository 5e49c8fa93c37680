#pragma once

#include "practice/bench.hpp"

namespace luxdossier::practice {

/// What a dark run holds of another device or state than a run, for a column: "sample S2", "meter M2", "no
/// readings of the meter". Empty where its readings are a zero of that device in that run.
[[nodiscard]] std::vector<std::string> differences(const Bench& bench, std::size_t dark, std::size_t run,
                                                   std::string_view column);

/// The part of the dark run that a run names whose readings of a column are its zero; empty where there is
/// none.
[[nodiscard]] std::optional<std::size_t> named_dark_run(const Bench& bench, std::size_t run,
                                                        std::string_view column);

/// The least that may stand unseen in a reading of a run's meter where its zero is not known: a step of it.
[[nodiscard]] std::optional<double> step_of_meter_lx(const Bench& bench, std::size_t run);

/// Levels below 100 times the dark reading are what a dark that is not known touches.
inline constexpr double dark_matters_below = 100.0;
[[nodiscard]] std::vector<std::size_t> results_near_dark(const Bench& bench, std::size_t run, double dark_lx);

}  // namespace luxdossier::practice
