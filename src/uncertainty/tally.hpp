#pragma once

#include "uncertainty/block_kernels.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace luxdossier::uncertainty {

/// Ends of a coverage interval.
struct Ends {
    double lower = 0;
    double upper = 0;
};

/// Numerical tolerance of a value whose `significant_digits` are meaningful: with the value written as
/// c 10^l, c an integer of that many digits, half of 10^l. 0 where the value is 0.
///
/// Source: JCGM 101:2008, 7.9.2.
[[nodiscard]] double numerical_tolerance(double value, int significant_digits);

/// A grid of TallyGrid::cells cells for the values of a result, from a first few of them: the interval of the
/// stated probability and half its length on both sides, or `widening` times that. Empty where all are equal
/// or none is finite.
[[nodiscard]] std::optional<TallyGrid> grid_for(std::vector<double> values, double coverage_probability,
                                                double widening);

/// Probabilistically symmetric coverage interval from counts in a grid, linear within a cell. A trial in
/// which the result is not defined counts as beyond both ends. Empty where an end lies outside the grid.
///
/// Source: JCGM 101:2008, 7.7; linear interpolation as in 7.5.1.
[[nodiscard]] std::optional<Ends> symmetric_interval(std::span<const std::uint16_t> counts,
                                                     const TallyGrid& grid, double coverage_probability);
[[nodiscard]] std::optional<Ends> symmetric_interval(std::span<const std::uint32_t> counts,
                                                     const TallyGrid& grid, double coverage_probability);

/// Standard deviation of the end of that interval which scatters more, from the binomial distribution of the
/// trials beyond it and the density beside it. Infinite where an end is not known, or nothing lies beside it.
///
/// Source: of an order statistic, sqrt(p(1 - p)/n)/f.
[[nodiscard]] double standard_deviation_of_ends(std::span<const std::uint32_t> counts, const TallyGrid& grid,
                                                double coverage_probability);

/// Shortest coverage interval (5.3.4, 7.7.4 of JCGM 101:2008): among the intervals that begin at the edge of
/// a cell, the first of the least length.
[[nodiscard]] std::optional<Ends> shortest_interval(std::span<const std::uint32_t> counts,
                                                    const TallyGrid& grid, double coverage_probability);

/// Mean and standard deviation of what has been added (Welford), for the scatter from block to block.
class RunningMoments {
public:
    void add(double value);
    [[nodiscard]] std::size_t count() const { return count_; }
    [[nodiscard]] double mean() const { return mean_; }
    /// s/sqrt(n); infinite below two values.
    [[nodiscard]] double standard_deviation_of_mean() const;

private:
    std::size_t count_ = 0;
    double mean_ = 0, squares_ = 0;
};

}  // namespace luxdossier::uncertainty
