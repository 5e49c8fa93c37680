#include "metrics/settling.hpp"

#include "statistics/summary.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::metrics {

std::optional<LevelChange> level_change(const SettledLog& log, double lag_s, std::size_t n)
{
    const auto& times = log.time_s;
    const auto& levels = log.level;
    if (n == 0 || times.size() != levels.size() || levels.size() < n)
        return std::nullopt;
    const auto starts = levels.size() - n + 1;

    // Means of n readings from every start, from sums that are taken about the first level (no cancellation).
    std::vector<double> sums(levels.size() + 1, 0.0);
    for (std::size_t i = 0; i < levels.size(); ++i)
        sums[i + 1] = sums[i] + (levels[i] - levels.front());
    const auto mean_from = [&](std::size_t start) {
        return levels.front() + (sums[start + n] - sums[start]) / static_cast<double>(n);
    };
    const double whole = levels.front() + sums.back() / static_cast<double>(levels.size());
    if (!(whole > 0))
        return std::nullopt;

    double squares = 0;
    std::size_t count = 0;
    std::size_t disjoint = 0;
    std::size_t free_from = 0;
    std::size_t second = 0;
    for (std::size_t first = 0; first < starts; ++first) {
        // the start nearest to t + lag, but behind the first block
        second = std::max(second, first + n);
        while (second < starts && times[second] - times[first] < lag_s)
            ++second;
        if (second >= starts)
            break;
        auto nearest = second;
        if (second > first + n &&
            lag_s - (times[second - 1] - times[first]) < times[second] - times[first] - lag_s)
            nearest = second - 1;
        const double change = (mean_from(nearest) - mean_from(first)) / whole;
        squares += change * change;
        ++count;
        if (first >= free_from) {
            ++disjoint;
            free_from = nearest + n;
        }
    }
    if (disjoint < 2)
        return std::nullopt;

    double within = 0;  // variance inside the disjoint n-blocks
    double within_nu = 0;
    for (std::size_t start = 0; n >= 2 && start + n <= levels.size(); start += n) {
        const auto summary = statistics::summarise(std::span(levels).subspan(start, n));
        within += static_cast<double>(n - 1) * summary.standard_deviation * summary.standard_deviation;
        within_nu += static_cast<double>(n - 1);
    }
    const double noise =
        within_nu > 0 ? 2 * within / within_nu / (static_cast<double>(n) * whole * whole) : 0.0;
    LevelChange result;
    result.standard_uncertainty = std::sqrt(std::max(0.0, squares / static_cast<double>(count) - noise));
    result.degrees_of_freedom = static_cast<double>(disjoint - 1);
    return result;
}

}  // namespace luxdossier::metrics
