#pragma once

#include "metrics/bench.hpp"

#include <optional>
#include <string>

namespace luxdossier::metrics {

/// Noise of the product's reading in the dark, and what was done to tell it.
struct Noise {
    std::optional<double> s0_lx;  ///< standard deviation of one reading
    std::size_t n = 0;            ///< readings that tell it
    bool upper_bound = false;
    std::string statement, subject;  ///< what was done, and to which run
    std::string undecided;
};

/// From the product's set of a dark run: its standard deviation; where its readings are clipped at zero that
/// of the lowest level with a mean of at least five steps; never below what the step of the reading can show.
[[nodiscard]] Noise noise_of(const Bench& bench, std::size_t dark_run, const model::ReadingSet& set);

}  // namespace luxdossier::metrics
