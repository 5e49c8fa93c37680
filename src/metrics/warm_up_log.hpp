#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace luxdossier::metrics {

/// A warm-up log as read: times that never decrease and the levels read then, both finite, one to one.
struct LevelLog {
    std::span<const double> time_s;
    std::span<const double> level;
};

/// The last window of a log, t > t_end - window, relative to the final level (the mean of its unfiltered
/// readings).
struct LastWindow {
    std::size_t first = 0;  ///< index of its first reading
    std::size_t n = 0;
    double final_level = 0;
    double peak_to_peak = 0;
    double standard_deviation = 0;
    double slope_per_s = 0;    ///< least squares, unfiltered
    double u_slope_per_s = 0;  ///< from the residuals, n - 2
};

/// When a log stays within the tolerance of its final level.
struct Settling {
    double interval_s = 0;        ///< h, the median interval of the log
    std::size_t half_length = 0;  ///< m: the filter is the centred mean of 2m + 1 readings
    LastWindow window;
    double filtered_standard_deviation = 0;  ///< of the filtered level in the last window, relative: u_L
    double noise_degrees_of_freedom = 0;     ///< floor(n_w/(2m + 1)) - 1
    std::optional<double> time_s;            ///< from the first reading; empty: never settled
    bool always_inside = false;              ///< no filtered reading lies outside: the time is 0
    std::optional<double> slope_per_s;       ///< of the relative filtered level at the crossing
    bool flat = false;                       ///< that slope is not significant at 1 %
    double bootstrap_u_s = 0;  ///< where flat: standard deviation of the crossing over the resamples
    std::string unsettled;     ///< why the log does not show that the source settles; empty: it does
    std::string unknown;       ///< why u cannot be told; empty: it can
};

/// Number of readings to each side that the centred mean takes: floor(window/(20 interval)).
[[nodiscard]] std::size_t filter_half_length(double window_s, double interval_s);

/// Centred mean of 2m + 1 readings, shortened symmetrically at the ends; time proportional to the number of
/// readings, for any m, without the cancellation of a running sum: each mean is the sum of two partial sums
/// of at most 2m + 1 terms.
[[nodiscard]] std::vector<double> centred_mean(std::span<const double> levels, std::size_t half_length);

/// Median interval between readings. Domain: at least 2 readings.
[[nodiscard]] double median_interval(std::span<const double> times);

/// The last window alone: all that a source without a tolerance can be told.
/// Domain: 1 reading or more. The slope is NaN where the window holds fewer than 2 times, its u where it
/// holds fewer than 3 readings.
[[nodiscard]] LastWindow last_window(const LevelLog& log, double window_s);

/// Settling of a log (docs/metrics/warm-up.md).
///
/// Units:  times in s; levels in any one unit; tolerance a fraction.
/// Domain: 2 readings or more, times that do not decrease and of which at least two differ, a final level
/// above 0,
///         tolerance > 0, window > 0.
/// A flat crossing, and a log that never lies outside, are judged by a circular block bootstrap: 2000 times,
/// blocks of 2(2m + 1) consecutive residuals of the filtered level from its mean in the last window (the
/// window closed to a ring) are drawn, laid over the filtered log from its end backwards, and the last
/// reading outside is found again. Only blocks that hold a reading which such a residual can bring across the
/// tolerance are drawn. Draws come from std::mt19937_64, whose output the C++ standard fixes, seeded with
/// `seed`; the start of a block is its output modulo the number of residuals.
[[nodiscard]] Settling settle(const LevelLog& log, double tolerance, double window_s, std::uint64_t seed);

/// Averaging time with the least overlapping Allan deviation: h 2^j up to a third of the span.
struct StabilityMinimum {
    double deviation = 0;
    double averaging_time_s = 0;
};
/// The deviation is in the unit of the levels. Empty where there are fewer than 3 readings.
[[nodiscard]] std::optional<StabilityMinimum> stability_minimum(std::span<const double> levels,
                                                                double interval_s);

}  // namespace luxdossier::metrics
