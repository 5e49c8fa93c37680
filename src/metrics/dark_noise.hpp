#pragma once

#include "metrics/bench.hpp"

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::metrics {

/// Noise of the product's reading in the dark, and what was done to tell it.
struct Noise {
    std::optional<double> s0_lx;  ///< standard deviation of one reading
    std::size_t n = 0;            ///< readings that tell it
    bool upper_bound = false;
    std::string statement, subject;  ///< what was done, and to which run
    std::string undecided;
    std::optional<std::size_t> level_run;  ///< where it is that of a level: the run and its rows
    std::vector<std::uint32_t> level_rows;
    bool of_set = false;  ///< the larger of the set's standard deviation and what its step shows
};

/// From the product's set of a dark run: its standard deviation; where its readings are clipped at zero that
/// of the lowest level with a mean of at least five steps; never below what the step of the reading can show.
[[nodiscard]] Noise noise_of(const Bench& bench, std::size_t dark_run, const model::ReadingSet& set);

/// The noise as formula of a recipe with its operands: of a noise that is the set's own.
[[nodiscard]] model::Recipe noise_recipe(const Bench& bench, std::size_t set);

}  // namespace luxdossier::metrics
