#include "uncertainty/target_state.hpp"

#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace luxdossier::uncertainty {
namespace {

double sum_of_lanes(const double (&lanes)[stream_lanes])
{
    double sum = 0.0;
    for (const double lane : lanes)
        sum += lane;
    return sum;
}

void add_lanes(const double (&lanes)[stream_lanes], double (&to)[stream_lanes])
{
    for (std::size_t lane = 0; lane < stream_lanes; ++lane)
        to[lane] += lanes[lane];
}

}  // namespace

void BlockTally::add(const BlockTally& other)
{
    for (std::size_t cell = 0; cell < TallyGrid::counters; ++cell)
        counts[cell] = static_cast<std::uint16_t>(counts[cell] + other.counts[cell]);
    add_lanes(other.sums.deviation, sums.deviation);
    add_lanes(other.sums.square, sums.square);
    add_lanes(other.sums.not_finite, sums.not_finite);
}

TargetState::TargetState(const MonteCarloTarget& target, const MonteCarloSettings& settings,
                         double first_value, bool has_variance)
    : target_(target), settings_(settings), has_variance_(has_variance),
      shift_(std::isfinite(first_value) ? first_value : 0.0)
{
}

void TargetState::begin(std::vector<double> first_trials, double widening)
{
    const double first = first_trials.front();
    is_constant_ = std::isfinite(first) &&
                   std::ranges::all_of(first_trials, [first](double value) { return value == first; });
    if (is_constant_)
        shift_ = first;  // so that later trials, if alike, deviate by exactly nothing
    grid_ = grid_for(std::move(first_trials), settings_.coverage_probability, widening)
                .value_or(TallyGrid{shift_ - 0.5, 1.0});
    counts_.assign(TallyGrid::counters, 0);
    lower_ = upper_ = {};
    blocks_ = trials_ = 0;
    deviation_ = square_ = not_finite_ = 0;
    done_ = off_grid_ = false;
    validation_.reset();
}

void TargetState::add_block(const BlockTally& block, std::size_t trials)
{
    for (std::size_t cell = 0; cell < TallyGrid::counters; ++cell)
        counts_[cell] += block.counts[cell];
    deviation_ += sum_of_lanes(block.sums.deviation);
    square_ += sum_of_lanes(block.sums.square);
    not_finite_ += sum_of_lanes(block.sums.not_finite);
    ++blocks_;
    trials_ += trials;
    if (const auto found = symmetric_interval(block.counts, grid_, settings_.coverage_probability)) {
        lower_.add(found->lower);
        upper_.add(found->upper);
    }
    const auto next_trials = trials_ + trials;
    if (blocks_ >= fewest_blocks || (blocks_ >= least_blocks && next_trials > settings_.largest_trials))
        judge(next_trials);
}

std::optional<Ends> TargetState::ends() const
{
    if (is_constant_)
        return square_ == 0.0 && not_finite_ == 0.0 ? std::optional(Ends{shift_, shift_}) : std::nullopt;
    return settings_.shortest ? shortest_interval(counts_, grid_, settings_.coverage_probability)
                              : symmetric_interval(std::span<const std::uint32_t>(counts_), grid_,
                                                   settings_.coverage_probability);
}

double TargetState::standard_deviation() const
{
    const double n = static_cast<double>(trials_) - not_finite_;
    if (n < 2.0)
        return 0.0;
    return std::sqrt(std::max(0.0, (square_ - deviation_ * deviation_ / n) / (n - 1.0)));
}

double TargetState::reached_tolerance() const
{
    if (is_constant_)
        return 0.0;
    return 2.0 * (blocks_ < fewest_blocks
                      ? standard_deviation_of_ends(counts_, grid_, settings_.coverage_probability)
                      : std::max(lower_.standard_deviation_of_mean(), upper_.standard_deviation_of_mean()));
}

double TargetState::asked_tolerance() const
{
    // Without a variance the length of the interval takes its place, as of a normal distribution.
    double u = standard_deviation();
    if (const auto found = ends(); !has_variance_ && found)
        u = (found->upper - found->lower) / (2.0 * coverage_factor(settings_.coverage_probability, infinite));
    return numerical_tolerance(u, settings_.significant_digits);
}

void TargetState::validate(std::size_t next_trials)
{
    if (validation_ || !target_.first_order)
        return;
    const auto& first = *target_.first_order;
    Validation validation;
    validation.delta = numerical_tolerance(first.standard_uncertainty, 1);
    validation.numerical_tolerance = reached_tolerance();
    validation.reached = validation.numerical_tolerance <= validation.delta / 5.0;
    if (const auto found = ends()) {
        validation.d_low = std::abs(first.value - first.expanded_uncertainty - found->lower);
        validation.d_high = std::abs(first.value + first.expanded_uncertainty - found->upper);
        validation.validated = validation.d_low <= validation.delta && validation.d_high <= validation.delta;
    }
    // Further trials would change nothing that is reported where the ends agree with three standard
    // deviations of their scatter to spare; that they disagree is only said with the full tolerance.
    const double greatest = std::max(validation.d_low, validation.d_high);
    const bool is_beyond_doubt = target_.stop_when_validated && validation.validated &&
                                 greatest + 1.5 * validation.numerical_tolerance <= validation.delta;
    if (!validation.reached && !is_beyond_doubt &&
        next_trials <= std::min(settings_.validation_trials, settings_.largest_trials))
        return;
    validation_ = validation;
}

void TargetState::judge(std::size_t next_trials)
{
    off_grid_ = !is_constant_ && !ends();
    if (off_grid_) {
        done_ = true;
        return;
    }
    validate(next_trials);
    if (target_.first_order && !validation_ && next_trials <= settings_.largest_trials)
        return;
    const bool is_validated = target_.stop_when_validated && validation_ && validation_->validated;
    done_ =
        is_validated || reached_tolerance() <= asked_tolerance() || next_trials > settings_.largest_trials;
}

MonteCarloResult TargetState::result() const
{
    MonteCarloResult result;
    result.trials = trials_;
    const double finite = static_cast<double>(trials_) - not_finite_;
    result.mean = finite > 0.0 ? shift_ + deviation_ / finite : shift_;
    if (has_variance_ && not_finite_ == 0.0)
        result.standard_uncertainty = standard_deviation();
    result.interval = ends();
    result.is_shortest = settings_.shortest;
    result.numerical_tolerance = reached_tolerance();
    result.asked_tolerance = asked_tolerance();
    result.converged = result.interval && result.numerical_tolerance <= result.asked_tolerance;
    result.undefined = counts_.empty() ? 0 : counts_[TallyGrid::undefined];
    result.validation = validation_;
    return result;
}

}  // namespace luxdossier::uncertainty
