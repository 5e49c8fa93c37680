#include "metrics/warm_up_log.hpp"

#include "model/numerals.hpp"
#include "statistics/line.hpp"
#include "statistics/summary.hpp"
#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double not_known = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t resamples = 2000;
/// Ratios of stated numbers (window over interval) carry rounding; what is this near to an integer is that
/// integer.
constexpr double rounding_slack = 1e-9;

/// The filtered level of a log as a deviation from the final level, relative.
struct Deviations {
    std::vector<double> values;
    [[nodiscard]] std::optional<std::size_t> last_outside(double tolerance) const
    {
        for (std::size_t i = values.size(); i-- > 0;)
            if (std::abs(values[i]) > tolerance)
                return i;
        return std::nullopt;
    }
};

Deviations filtered_deviations(const LevelLog& log, std::size_t half_length, double final_level)
{
    Deviations deviations{centred_mean(log.level, half_length)};
    for (auto& value : deviations.values)
        value = (value - final_level) / final_level;
    return deviations;
}

/// Slope of the filtered level at the crossing between k and k + 1, and whether it is significant at 1 %,
/// two-sided.
void judge_slope(Settling& settling, const LevelLog& log, const Deviations& deviations, std::size_t k)
{
    const std::size_t m = settling.half_length;
    const std::size_t first = k - std::min(k, m);
    const std::size_t count = std::min(k + 2 + m, log.time_s.size()) - first;
    const auto times = log.time_s.subspan(first, count);
    settling.flat = true;
    if (count < 3 || !(times.back() > times.front()))
        return;  // two readings carry no test
    const auto fit = statistics::fit_line(times, std::span(deviations.values).subspan(first, count));
    settling.slope_per_s = fit.line.gain;
    const double critical = uncertainty::t_quantile(0.995, fit.degrees_of_freedom);
    settling.flat = !(std::abs(fit.line.gain) > critical * fit.standard_uncertainty_gain);
}

/// Standard deviation of the time of the last reading outside, over resamples of the noise of the filtered
/// level.
double bootstrap(const Settling& settling, const LevelLog& log, const Deviations& deviations,
                 double tolerance, std::uint64_t seed)
{
    const auto window = std::span(deviations.values).subspan(settling.window.first);
    const double mean = statistics::summarise(window).mean;
    std::vector<double> residuals(window.begin(), window.end());
    double greatest = 0;
    for (auto& residual : residuals) {
        residual -= mean;
        greatest = std::max(greatest, std::abs(residual));
    }
    // Readings from the end backwards that a residual can bring outside; one that stays outside whatever is
    // drawn ends it.
    std::vector<std::size_t> candidates;
    for (std::size_t i = deviations.values.size(); i-- > 0;) {
        const double distance = std::abs(deviations.values[i]);
        if (distance + greatest > tolerance)
            candidates.push_back(i);
        if (distance - greatest > tolerance)
            break;
    }
    const std::size_t block_length = 2 * (2 * settling.half_length + 1);
    std::mt19937_64 generator(seed);
    std::vector<double> crossings;
    crossings.reserve(resamples);
    for (std::size_t resample = 0; resample < resamples; ++resample) {
        double crossing = 0;
        std::optional<std::size_t> block;
        std::size_t start = 0;
        for (const auto i : candidates) {
            const std::size_t from_end = deviations.values.size() - 1 - i;
            if (block != from_end / block_length) {
                block = from_end / block_length;
                start = static_cast<std::size_t>(generator() % residuals.size());
            }
            const double noise = residuals[(start + from_end % block_length) % residuals.size()];
            if (std::abs(deviations.values[i] + noise) > tolerance) {
                const std::size_t next = std::min(i + 1, log.time_s.size() - 1);
                crossing = (log.time_s[i] + log.time_s[next]) / 2 - log.time_s.front();
                break;
            }
        }
        crossings.push_back(crossing);
    }
    return statistics::summarise(crossings).standard_deviation;
}

/// Why a log does not show that its source settles, or empty text.
std::string why_unsettled(const Settling& settling, const LevelLog& log, double tolerance, double window_s)
{
    if (!settling.time_s)
        return "the level still leaves the settling tolerance at the end of the log";
    if (!settling.unknown.empty())
        return settling.unknown;
    if (!(tolerance >= 4 * settling.filtered_standard_deviation))
        return fmt::format(
            "the settling tolerance of {} % is less than four times the noise of the filtered level, "
            "{} %",
            model::numeral(100 * tolerance, 3),
            model::numeral(100 * settling.filtered_standard_deviation, 2));
    const double length = log.time_s.back() - log.time_s.front();
    if (!(length >= 3 * *settling.time_s))
        return fmt::format("the log lasts {} s, less than three times the warm-up time of {} s",
                           model::numeral(length, 4), model::numeral(*settling.time_s, 4));
    const double drift = std::abs(settling.window.slope_per_s) * window_s;
    if (!(drift < tolerance / 4))
        return fmt::format(
            "the level drifts by {} % over the last window, not less than a quarter of the settling "
            "tolerance of {} %",
            model::numeral(100 * drift, 2), model::numeral(100 * tolerance, 3));
    return {};
}

}  // namespace

std::size_t filter_half_length(double window_s, double interval_s)
{
    const double half = window_s / (20 * interval_s);
    return static_cast<std::size_t>(std::floor(half * (1 + rounding_slack)));
}

std::vector<double> centred_mean(std::span<const double> levels, std::size_t half_length)
{
    const std::size_t n = levels.size();
    if (half_length == 0 || n < 3)
        return {levels.begin(), levels.end()};
    const std::size_t m = std::min(half_length, (n - 1) / 2);
    const std::size_t length = 2 * m + 1;
    const double origin = levels.front();  // sums of differences: the level itself takes no digits
    std::vector<double> means(n);
    const auto shortened = [&](std::size_t end, bool backwards) {
        double sum = 0;
        for (std::size_t i = 0; i < end; ++i) {
            const auto at = [&](std::size_t index) {
                return levels[backwards ? n - 1 - index : index] - origin;
            };
            sum += i == 0 ? at(0) : at(2 * i - 1) + at(2 * i);
            means[backwards ? n - 1 - i : i] = origin + sum / static_cast<double>(2 * i + 1);
        }
    };
    // Full windows begin at `first` and end within the same or the next block of `length` readings: each is
    // the tail of one block and the head of the next.
    std::vector<double> tails(length + 1, 0.0);
    for (std::size_t block = 0; block + length <= n; block += length) {
        for (std::size_t i = length; i-- > 0;)
            tails[i] = tails[i + 1] + (levels[block + i] - origin);
        double head = 0;
        for (std::size_t i = 0; i < length && block + i + length <= n; ++i) {
            means[block + i + m] = origin + (tails[i] + head) / static_cast<double>(length);
            if (block + length + i < n)
                head += levels[block + length + i] - origin;
        }
    }
    shortened(m, false);
    shortened(m, true);
    return means;
}

double median_interval(std::span<const double> times)
{
    std::vector<double> intervals(times.size() - 1);
    for (std::size_t i = 0; i < intervals.size(); ++i)
        intervals[i] = times[i + 1] - times[i];
    const auto middle = intervals.begin() + static_cast<std::ptrdiff_t>(intervals.size() / 2);
    std::ranges::nth_element(intervals, middle);
    if (intervals.size() % 2 == 1)
        return *middle;
    return (*middle + *std::max_element(intervals.begin(), middle)) / 2;
}

LastWindow last_window(const LevelLog& log, double window_s)
{
    LastWindow window;
    const double begin = log.time_s.back() - window_s;
    window.first = static_cast<std::size_t>(std::ranges::upper_bound(log.time_s, begin) - log.time_s.begin());
    window.n = log.time_s.size() - window.first;
    const auto times = log.time_s.subspan(window.first);
    const auto levels = log.level.subspan(window.first);
    const auto summary = statistics::summarise(levels);
    const auto [least, greatest] = std::ranges::minmax(levels);
    window.final_level = summary.mean;
    window.peak_to_peak = (greatest - least) / summary.mean;
    window.standard_deviation = summary.standard_deviation / summary.mean;
    window.slope_per_s = window.u_slope_per_s = not_known;
    if (times.back() > times.front()) {
        const auto fit = statistics::fit_line(times, levels);
        window.slope_per_s = fit.line.gain / summary.mean;
        if (window.n >= 3)
            window.u_slope_per_s = fit.standard_uncertainty_gain / summary.mean;
    }
    return window;
}

Settling settle(const LevelLog& log, double tolerance, double window_s, std::uint64_t seed)
{
    Settling settling;
    settling.interval_s = median_interval(log.time_s);
    settling.half_length = settling.interval_s > 0 ? filter_half_length(window_s, settling.interval_s) : 0;
    settling.window = last_window(log, window_s);
    const double final_level = settling.window.final_level;
    const auto deviations = filtered_deviations(log, settling.half_length, final_level);
    const auto in_window = std::span(deviations.values).subspan(settling.window.first);
    const auto noise = statistics::summarise(in_window);
    const double filter_length = static_cast<double>(2 * settling.half_length + 1);
    settling.filtered_standard_deviation = noise.standard_deviation;
    settling.noise_degrees_of_freedom =
        std::floor(static_cast<double>(settling.window.n) / filter_length) - 1;

    const auto outside = deviations.last_outside(tolerance);
    settling.always_inside = !outside;
    if (!outside) {
        settling.time_s = 0;
    } else if (*outside + 1 < deviations.values.size()) {
        const std::size_t k = *outside;
        const double before = deviations.values[k], after = deviations.values[k + 1];
        const double edge = std::copysign(tolerance, before);
        settling.time_s = log.time_s[k] - log.time_s.front() +
                          (edge - before) / (after - before) * (log.time_s[k + 1] - log.time_s[k]);
        judge_slope(settling, log, deviations, k);
    }
    if (settling.window.n < 2 || settling.noise_degrees_of_freedom < 1)
        settling.unknown =
            "the last window holds fewer readings than twice the settling filter takes: the noise of the "
            "filtered level is not known";
    else if (settling.time_s && (settling.flat || settling.always_inside))
        settling.bootstrap_u_s = bootstrap(settling, log, deviations, tolerance, seed);
    settling.unsettled = why_unsettled(settling, log, tolerance, window_s);
    return settling;
}

std::optional<StabilityMinimum> stability_minimum(std::span<const double> levels, double interval_s)
{
    std::optional<StabilityMinimum> least;
    for (std::size_t m = 1; m <= levels.size() / 3; m *= 2) {
        const double deviation = statistics::overlapping_allan_deviation(levels, m);
        if (!least || deviation < least->deviation)
            least = StabilityMinimum{deviation, interval_s * static_cast<double>(m)};
    }
    return least;
}

}  // namespace luxdossier::metrics
