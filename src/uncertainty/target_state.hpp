#pragma once

#include "uncertainty/monte_carlo.hpp"
#include "uncertainty/tally.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace luxdossier::uncertainty {

/// What one block of trials says of one target.
struct alignas(64) BlockTally {
    std::uint16_t counts[TallyGrid::counters]{};
    TallySums sums;
    void add(const BlockTally& other);
};

/// One target on its way to its result: takes its blocks in order and says when it is done. Used by
/// monte_carlo.cpp only.
class TargetState {
public:
    /// From as many blocks on their scatter tells how good the ends are.
    static constexpr std::size_t fewest_blocks = 5;
    static constexpr std::size_t least_blocks = 2;  ///< where no more trials are permitted
    TargetState(const MonteCarloTarget& target, const MonteCarloSettings& settings, double first_value,
                bool has_variance);
    /// Sets the grid from the first trials, and forgets all blocks.
    void begin(std::vector<double> first_trials, double widening);
    [[nodiscard]] const TallyGrid& grid() const { return grid_; }
    [[nodiscard]] double shift() const { return shift_; }
    [[nodiscard]] bool is_done() const { return done_; }
    /// An end lies outside the grid: to begin anew on a wider one.
    [[nodiscard]] bool is_off_grid() const { return off_grid_; }
    void add_block(const BlockTally& block, std::size_t trials);
    [[nodiscard]] std::size_t blocks() const { return blocks_; }
    [[nodiscard]] MonteCarloResult result() const;

private:
    void judge(std::size_t next_trials);
    void validate(std::size_t next_trials);
    [[nodiscard]] std::optional<Ends> ends() const;
    [[nodiscard]] double standard_deviation() const;
    [[nodiscard]] double reached_tolerance() const;
    [[nodiscard]] double asked_tolerance() const;

    MonteCarloTarget target_;
    MonteCarloSettings settings_;
    bool has_variance_;
    double shift_;
    bool is_constant_ = false;  ///< the first trials are all equal
    TallyGrid grid_;
    std::vector<std::uint32_t> counts_;
    RunningMoments lower_, upper_;  ///< ends of the blocks
    std::size_t blocks_ = 0, trials_ = 0;
    double deviation_ = 0, square_ = 0, not_finite_ = 0;
    bool done_ = false, off_grid_ = false;
    std::optional<Validation> validation_;
};

}  // namespace luxdossier::uncertainty
