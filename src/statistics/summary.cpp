#include "statistics/summary.hpp"

#include "statistics/sum.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <fmt/format.h>

namespace luxdossier::statistics {
namespace {

bool all_equal(std::span<const double> values)
{
    return std::ranges::adjacent_find(values, std::ranges::not_equal_to{}) == values.end();
}

/// Mean, its own rounding taken out by a second pass.
double mean_of(std::span<const double> values)
{
    if (values.empty())
        return std::numeric_limits<double>::quiet_NaN();
    if (all_equal(values))
        return values.front();
    const auto n = static_cast<double>(values.size());
    CompensatedSum sum, rest;
    for (const double value : values)
        sum.add(value);
    const double first = sum.value() / n;
    for (const double value : values)
        rest.add(value - first);
    return first + rest.value() / n;
}

}  // namespace

Summary summarise(std::span<const double> values)
{
    Summary summary{values.size(), mean_of(values), std::numeric_limits<double>::quiet_NaN()};
    if (values.size() < 2)
        return summary;
    if (all_equal(values)) {
        summary.standard_deviation = 0.0;
        return summary;
    }
    const auto n = static_cast<double>(values.size());
    CompensatedSum squares, rest;
    for (const double value : values) {
        const double deviation = value - summary.mean;
        squares.add(deviation * deviation);
        rest.add(deviation);
    }
    // The rest is what the rounded mean leaves over (corrected two-pass algorithm; Chan, Golub and LeVeque
    // 1983).
    const double variance = (squares.value() - rest.value() * rest.value() / n) / (n - 1.0);
    summary.standard_deviation = std::sqrt(std::max(variance, 0.0));
    return summary;
}

double covariance(std::span<const double> a, std::span<const double> b)
{
    if (a.size() != b.size() || a.size() < 2)
        throw std::domain_error(fmt::format(
            "found {} and {} paired readings, expected equal numbers of 2 or more", a.size(), b.size()));
    const double mean_a = mean_of(a), mean_b = mean_of(b);
    CompensatedSum sum;
    for (std::size_t index = 0; index < a.size(); ++index)
        sum.add((a[index] - mean_a) * (b[index] - mean_b));
    return sum.value() / static_cast<double>(a.size() - 1);
}

std::optional<double> smallest_step(std::span<const double> values)
{
    std::vector<double> sorted(values.begin(), values.end());
    std::ranges::sort(sorted);
    std::optional<double> smallest;
    for (std::size_t index = 1; index < sorted.size(); ++index)
        if (const double step = sorted[index] - sorted[index - 1];
            step > 0.0 && (!smallest || step < *smallest))
            smallest = step;
    return smallest;
}

double overlapping_allan_deviation(std::span<const double> levels, std::size_t m)
{
    if (m < 1 || levels.size() < 2 * m + 1)
        throw std::domain_error(fmt::format("found {} levels for averages over {}, expected {} or more",
                                            levels.size(), m, 2 * std::max<std::size_t>(m, 1) + 1));
    // Running sums of the centred levels: the phase of a frequency record without its slope.
    const double mean = mean_of(levels);
    std::vector<double> phase(levels.size() + 1, 0.0);
    CompensatedSum running;
    for (std::size_t index = 0; index < levels.size(); ++index) {
        running.add(levels[index] - mean);
        phase[index + 1] = running.value();
    }
    CompensatedSum squares;
    const std::size_t terms = levels.size() - 2 * m + 1;
    for (std::size_t index = 0; index < terms; ++index) {
        const double difference = phase[index + 2 * m] - 2.0 * phase[index + m] + phase[index];
        squares.add(difference * difference);
    }
    const auto width = static_cast<double>(m);
    return std::sqrt(squares.value() / (2.0 * width * width * static_cast<double>(terms)));
}

}  // namespace luxdossier::statistics
