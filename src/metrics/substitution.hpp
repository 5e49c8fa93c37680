#pragma once

#include "metrics/readings.hpp"

namespace luxdossier::metrics {

/// An uninterrupted series of one device (or place) at one level, in file order.
struct Block {
    std::string who;  ///< "sensor", "meter" or a place
    std::vector<std::uint32_t> rows;
};
/// Merges neighbours in file order. `rows` and `who` run in step; a gap in `positions` (other levels in
/// between) ends a block as well.
[[nodiscard]] std::vector<Block> blocks_of(std::span<const std::uint32_t> rows,
                                           std::span<const std::string> who,
                                           std::span<const std::size_t> positions);

/// A-B, or A-B-A.
[[nodiscard]] bool is_sequence(std::span<const Block> blocks);

/// Means of two devices or places that were read one after the other: A-B-A, A-B.
struct Sequence {
    ReadingMean bracketing;  ///< A, interpolated to the time of B, with the source input where A came back
    ReadingMean between;     ///< B
    std::string bracketing_who;
    std::optional<Expression> source;  ///< S = 1 + s of a series without return; acts on the illuminance
    Trail trail;                       ///< of S: reasons and remarks
};
/// What a sequence needs to know: how to ask for the mean of a block, and how to name its source input.
struct SequenceRequest {
    std::size_t run = 0;
    std::vector<Block> blocks;
    std::string identity;  ///< "level=100lx" or empty
    std::optional<double> level_lx;
    std::map<std::string, std::string> column;  ///< who -> column read
    std::map<std::string, std::string> words;   ///< who -> words of the budget
    std::map<std::string, std::string> symbol;  ///< who -> symbol
};
/// All sequences of one run at once, so that like sets pool. A sequence in any other order than A-B or A-B-A
/// has no value: nullopt (the caller says so).
[[nodiscard]] std::vector<std::optional<Sequence>> sequences_of(Bench& bench,
                                                                std::span<const SequenceRequest> requests);

}  // namespace luxdossier::metrics
