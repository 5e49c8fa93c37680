#include "statistics/lag_one.hpp"

#include "statistics/sum.hpp"
#include "statistics/summary.hpp"
#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace luxdossier::statistics {
namespace {

constexpr double greatest_r = 0.95;

}  // namespace

double lag_one_autocorrelation(std::span<const double> values)
{
    const auto summary = summarise(values);
    if (values.size() < 2 || summary.standard_deviation == 0)
        return 0.0;
    CompensatedSum products, squares;
    for (std::size_t index = 0; index < values.size(); ++index) {
        const double deviation = values[index] - summary.mean;
        squares.add(deviation * deviation);
        if (index + 1 < values.size())
            products.add(deviation * (values[index + 1] - summary.mean));
    }
    return squares.value() > 0 ? products.value() / squares.value() : 0.0;
}

Autocorrelation autocorrelation(std::span<const double> values)
{
    constexpr std::size_t fewest = 10;
    constexpr double one_sided_1_percent = 2.3263;
    const auto n = static_cast<double>(values.size());
    Autocorrelation found;
    found.r1 = lag_one_autocorrelation(values);
    found.effective_n = n;
    found.degrees_of_freedom = std::max(n - 1.0, 0.0);
    if (values.size() < fewest)
        return found;
    found.significant = found.r1 > (-1.0 + one_sided_1_percent * std::sqrt(n - 2.0)) / (n - 1.0);
    if (!found.significant)
        return found;
    found.r = std::clamp(found.r1 + (1.0 + 4.0 * found.r1) / n, 0.0, greatest_r);
    found.effective_n = std::max(2.0, n * (1.0 - found.r) / (1.0 + found.r));
    found.variance_factor = (n - 1.0) / (found.effective_n - 1.0);
    found.degrees_of_freedom = std::max(1.0, std::floor(found.effective_n - 1.0));
    return found;
}

void DeviceCorrelation::add(std::span<const double> values)
{
    constexpr std::size_t fewest = 3;
    // Not one NaN or overflow may spoil what the other sets say.
    if (values.size() < fewest || !(summarise(values).standard_deviation > 0))
        return;
    const double r1 = lag_one_autocorrelation(values);
    if (!std::isfinite(r1))
        return;
    const auto n = static_cast<double>(values.size());
    sum += (n - 1.0) * (r1 + 1.0 / n);
    weight += (n - 1.0) * (1.0 - 2.0 / n) * (1.0 - 2.0 / n);
    ++sets;
    readings += n;
}

double DeviceCorrelation::estimate_of(double r1, double n)
{
    return (r1 + 1.0 / n) / ((1.0 - 2.0 / n) * (1.0 - 2.0 / n));
}

bool correlates_beyond(double r1, double n, double r, double sets)
{
    const double deviation = std::sqrt((1.0 - r * r) / (n - 1.0)) / (1.0 - 2.0 / n);
    const double largest =
        uncertainty::t_quantile(1.0 - 0.01 / sets, std::numeric_limits<double>::infinity());
    return DeviceCorrelation::estimate_of(r1, n) > r + largest * deviation;
}

bool DeviceCorrelation::is_significant() const
{
    constexpr double one_sided_5_percent = 1.6449;
    return sum > one_sided_5_percent * std::sqrt(weight);
}

double DeviceCorrelation::r() const
{
    return is_significant() ? std::min(estimate(), greatest_r) : 0.0;
}

CorrelatedSet correlated_set(double n, double r)
{
    const double q = 1.0 - r, power = std::pow(r, n), squared = r * r;
    // Sums over the matrix: of its elements, of their squares, of the squares of its rows' sums.
    const double sum = (n * (1.0 - squared) - 2.0 * r * (1.0 - power)) / (q * q);
    const double sum_of_squares = (n * (1.0 - squared * squared) - 2.0 * squared * (1.0 - power * power)) /
                                  ((1.0 - squared) * (1.0 - squared));
    const double sum_of_rows =
        (n * (1.0 + r) * (1.0 + r) - 4.0 * (1.0 + r) * r * (1.0 - power) / q +
         2.0 * squared * (1.0 - power * power) / (1.0 - squared) + 2.0 * n * r * power) /
        (q * q);
    return {n * n / sum, n - sum / n, sum_of_squares - 2.0 / n * sum_of_rows + sum * sum / (n * n)};
}

double correlated_degrees_of_freedom(double trace, double trace_of_square, double r, double weight)
{
    const double of_r = weight * (1.0 - r * r) * (1.0 - r * r) / 2.0;
    return std::max(1.0, 1.0 / (trace_of_square / (trace * trace) + 1.0 / of_r));
}

}  // namespace luxdossier::statistics
