#include "uncertainty/monte_carlo.hpp"

#include "uncertainty/target_state.hpp"
#include "uncertainty/trial_plan.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <functional>
#include <mutex>
#include <numeric>
#include <stdexcept>
#include <system_error>
#include <thread>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::uncertainty {
namespace {

constexpr std::size_t smallest_block = 10'000;
constexpr std::size_t halves = 2;              // of a block, each with streams of its own
constexpr std::size_t largest_block = 65'024;  // counts of a block are 16 bits wide
constexpr std::size_t first_halves = 4;        // a chunk of each sets the grids

std::size_t block_trials(double coverage_probability)
{
    const double wanted =
        std::min(std::ceil(100.0 / (1.0 - coverage_probability)), static_cast<double>(largest_block));
    const auto trials = std::max(static_cast<std::size_t>(wanted), smallest_block);
    constexpr std::size_t step = halves * chunk_trials;
    return (trials + step - 1) / step * step;
}

struct alignas(64) Mask {
    std::uint64_t trials[chunk_trials];
};

/// Runs work(0) ... work(count - 1) on several threads; what one of them throws is thrown again.
void in_parallel(std::size_t threads, std::size_t count, const std::function<void(std::size_t)>& work)
{
    std::atomic<std::size_t> next{0};
    std::exception_ptr failure;
    std::mutex guard;
    const auto loop = [&] {
        try {
            for (std::size_t index = next++; index < count; index = next++)
                work(index);
        } catch (...) {
            const std::lock_guard lock(guard);
            failure = std::current_exception();
            next = count;
        }
    };
    std::vector<std::thread> helpers;
    try {
        for (std::size_t index = 1; index < std::min(threads, count); ++index)
            helpers.emplace_back(loop);
    } catch (const std::system_error&) {
        // No more threads are to be had: fewer do the same work and give the same bytes.
    }
    loop();
    for (auto& helper : helpers)
        helper.join();
    if (failure)
        std::rethrow_exception(failure);
}

/// What one block, or a half of it, says: tallies of the targets that still run, and how many trials meet
/// each requirement.
struct BlockOutcome {
    std::vector<BlockTally> tallies;
    std::vector<std::size_t> met;      ///< per requirement
    std::vector<std::size_t> set_met;  ///< per set
    std::size_t all_met = 0;

    [[nodiscard]] bool is_empty() const { return tallies.empty(); }
    void add(const BlockOutcome& other)
    {
        for (std::size_t index = 0; index < tallies.size(); ++index)
            tallies[index].add(other.tallies[index]);
        std::ranges::transform(met, other.met, met.begin(), std::plus());
        std::ranges::transform(set_met, other.set_met, set_met.begin(), std::plus());
        all_met += other.all_met;
    }
};

class Run {
public:
    Run(const Graph& graph, std::span<const MonteCarloTarget> targets,
        std::span<const Requirement> requirements, const MonteCarloSettings& settings)
        : settings_(settings), kernels_(settings.kernels ? *settings.kernels : widest_kernels()),
          model_(graph, settings.seed), targets_(targets), requirements_(requirements),
          requirements_of_(targets.size()), trials_(block_trials(settings.coverage_probability))
    {
        if (settings_.threads == 0)
            settings_.threads = std::max(1U, std::thread::hardware_concurrency());
        for (const auto& target : targets) {
            constexpr double no_variance = 2.0;
            states_.emplace_back(target, settings_, graph.value(target.node),
                                 model_.smallest_degrees_of_freedom(target.node) > no_variance);
        }
        for (std::size_t index = 0; index < requirements.size(); ++index) {
            requirements_of_.at(requirements[index].target).push_back(index);
            sets_ = std::max(sets_, requirements[index].set + 1);
        }
        outcome_.probabilities.assign(requirements.size(), 0.0);
        outcome_.sets.assign(sets_, {});
        met_.assign(requirements.size(), 0);
        set_met_.assign(sets_, 0);
    }

    MonteCarlo take() &&
    {
        std::vector<std::size_t> all(targets_.size());
        std::iota(all.begin(), all.end(), std::size_t{0});
        run(all, 1.0);
        joint_open_ = false;
        constexpr int most_widenings = 8;
        double widening = 1.0;
        for (int attempt = 0; attempt < most_widenings; ++attempt) {
            std::vector<std::size_t> off_grid;
            for (const auto index : all)
                if (states_[index].is_off_grid())
                    off_grid.push_back(index);
            if (off_grid.empty())
                break;
            widening *= 8.0;
            run(std::move(off_grid), widening);
        }
        return result();
    }

private:
    void run(std::vector<std::size_t> active, double widening)
    {
        const auto first_blocks = std::clamp<std::size_t>(
            settings_.largest_trials / trials_, TargetState::least_blocks, TargetState::fewest_blocks);
        begin(active, widening);
        std::size_t block = 0;
        while (!active.empty()) {
            // Blocks beyond the one that settles a result are drawn in vain for it: few at first, then in
            // proportion to what was drawn.
            const std::size_t count = std::max({block == 0 ? first_blocks : std::size_t{1},
                                                (settings_.threads + halves - 1) / halves, block / 8});
            absorb(active, block, draw(active, block, count));
            block += count;
            std::erase_if(active, [this](std::size_t index) { return states_[index].is_done(); });
        }
    }

    [[nodiscard]] TrialPlan plan(const std::vector<std::size_t>& active) const
    {
        std::vector<Node> nodes;
        for (const auto index : active)
            nodes.push_back(targets_[index].node);
        return plan_trials(model_, nodes);
    }

    void begin(const std::vector<std::size_t>& active, double widening)
    {
        const auto steps = plan(active);
        std::vector<std::vector<double>> first(active.size(),
                                               std::vector<double>(first_halves * chunk_trials));
        in_parallel(settings_.threads, first_halves, [&](std::size_t half) {
            TrialRunner runner(steps, kernels_);
            runner.start_streams(half);
            runner.run_chunk([&](std::size_t target, const double* values) {
                std::copy_n(values, chunk_trials,
                            first[target].begin() + static_cast<std::ptrdiff_t>(half * chunk_trials));
            });
        });
        in_parallel_parts(active.size(), [&](std::size_t index) {
            states_[active[index]].begin(std::move(first[index]), widening);
            for (const auto requirement : requirements_of_[active[index]])
                met_[requirement] = 0;
        });
    }

    std::vector<BlockOutcome> draw(const std::vector<std::size_t>& active, std::size_t first_block,
                                   std::size_t count)
    {
        const auto steps = plan(active);
        std::vector<BlockOutcome> outcomes(count);
        std::mutex guard;
        in_parallel(settings_.threads, halves * count, [&](std::size_t index) {
            auto half = draw_half(steps, active, halves * first_block + index);
            auto& block = outcomes[index / halves];
            // The sum of two numbers is the same in either order, whichever half is there first.
            const std::lock_guard lock(guard);
            if (block.is_empty())
                block = std::move(half);
            else
                block.add(half);
        });
        return outcomes;
    }

    BlockOutcome draw_half(const TrialPlan& steps, const std::vector<std::size_t>& active,
                           std::size_t half) const
    {
        BlockOutcome outcome;
        outcome.tallies.resize(active.size());
        outcome.met.assign(requirements_.size(), 0);
        outcome.set_met.assign(sets_, 0);
        std::vector<Mask> masks(sets_);
        TrialRunner runner(steps, kernels_);
        runner.start_streams(half);
        for (std::size_t chunk = 0; chunk < trials_ / halves; chunk += chunk_trials) {
            for (auto& mask : masks)
                std::ranges::fill(mask.trials, ~std::uint64_t{0});
            runner.run_chunk([&](std::size_t target, const double* values) {
                const auto& state = states_[active[target]];
                auto& tally = outcome.tallies[target];
                kernels_.tally(values, state.grid(), state.shift(), tally.counts, tally.sums);
                for (const auto index : requirements_of_[active[target]]) {
                    const auto& requirement = requirements_[index];
                    outcome.met[index] += kernels_.within(values, requirement.lower, requirement.upper,
                                                          masks[requirement.set].trials);
                }
            });
            count_joint(masks, outcome);
        }
        return outcome;
    }

    static void count_joint(const std::vector<Mask>& masks, BlockOutcome& outcome)
    {
        if (masks.empty())
            return;
        Mask all;
        std::ranges::fill(all.trials, ~std::uint64_t{0});
        for (std::size_t set = 0; set < masks.size(); ++set)
            for (std::size_t trial = 0; trial < chunk_trials; ++trial) {
                outcome.set_met[set] += masks[set].trials[trial] & 1U;
                all.trials[trial] &= masks[set].trials[trial];
            }
        for (const auto trial : all.trials)
            outcome.all_met += trial & 1U;
    }

    /// Takes blocks in order, each result as many as it takes to settle. Joint probabilities end with the
    /// first result that is asked of and has settled.
    void absorb(const std::vector<std::size_t>& active, std::size_t first_block,
                const std::vector<BlockOutcome>& blocks)
    {
        in_parallel_parts(active.size(), [&](std::size_t index) {
            auto& state = states_[active[index]];
            for (const auto& block : blocks) {
                if (state.is_done())
                    break;
                for (const auto requirement : requirements_of_[active[index]])
                    met_[requirement] += block.met[requirement];
                state.add_block(block.tallies[index], trials_);
            }
        });
        for (std::size_t index = 0; index < blocks.size(); ++index) {
            const auto block = first_block + index;
            joint_open_ = joint_open_ && !requirements_.empty() &&
                          std::ranges::all_of(requirements_, [&](const auto& requirement) {
                              return states_[requirement.target].blocks() > block;
                          });
            if (!joint_open_)
                return;
            joint_trials_ += trials_;
            all_met_ += blocks[index].all_met;
            for (std::size_t set = 0; set < sets_; ++set)
                set_met_[set] += blocks[index].set_met[set];
        }
    }

    /// Runs work(0) ... work(count - 1), many of them by one thread after the other.
    void in_parallel_parts(std::size_t count, const std::function<void(std::size_t)>& work) const
    {
        constexpr std::size_t part = 64;
        in_parallel(settings_.threads, (count + part - 1) / part, [&](std::size_t index) {
            const auto end = std::min(count, (index + 1) * part);
            for (std::size_t item = index * part; item < end; ++item)
                work(item);
        });
    }

    MonteCarlo result()
    {
        for (const auto& state : states_) {
            outcome_.results.push_back(state.result());
            outcome_.trials = std::max(outcome_.trials, outcome_.results.back().trials);
        }
        const auto share = [](std::size_t part, std::size_t whole) {
            return whole == 0 ? 0.0 : static_cast<double>(part) / static_cast<double>(whole);
        };
        for (std::size_t index = 0; index < requirements_.size(); ++index)
            outcome_.probabilities[index] =
                share(met_[index], outcome_.results[requirements_[index].target].trials);
        for (std::size_t set = 0; set < sets_; ++set)
            outcome_.sets[set] = {share(set_met_[set], joint_trials_), joint_trials_};
        outcome_.all = {share(all_met_, joint_trials_), joint_trials_};
        outcome_.trials_per_block = trials_;
        return std::move(outcome_);
    }

    MonteCarloSettings settings_;
    const BlockKernels& kernels_;
    TrialModel model_;
    std::span<const MonteCarloTarget> targets_;
    std::span<const Requirement> requirements_;
    std::vector<std::vector<std::size_t>> requirements_of_;
    std::size_t trials_ = 0;
    std::vector<TargetState> states_;
    std::size_t sets_ = 0;
    std::vector<std::size_t> met_, set_met_;
    std::size_t all_met_ = 0, joint_trials_ = 0;
    bool joint_open_ = true;
    MonteCarlo outcome_;
};

}  // namespace

MonteCarlo run_monte_carlo(const Graph& graph, std::span<const MonteCarloTarget> targets,
                           std::span<const Requirement> requirements, const MonteCarloSettings& settings)
{
    if (!(settings.coverage_probability > 0.0 && settings.coverage_probability < 1.0))
        throw std::domain_error(fmt::format("found coverage probability {}, expected one between 0 and 1",
                                            settings.coverage_probability));
    if (settings.significant_digits < 1)
        throw std::domain_error(
            fmt::format("found {} significant digits, expected 1 or more", settings.significant_digits));
    return Run(graph, targets, requirements, settings).take();
}

}  // namespace luxdossier::uncertainty
