#pragma once

#include <span>

namespace luxdossier::statistics {

// Neighbouring readings that are alike: a mean of them is known less well than s/sqrt(n) says. All models are
// those of a first-order process, where readings k apart correlate by r^k.

/// Lag-1 autocorrelation r1 = sum (x_i - m)(x_(i+1) - m) / sum (x_i - m)^2; 0 where all values are equal.
[[nodiscard]] double lag_one_autocorrelation(std::span<const double> values);

/// Autocorrelation of one set (docs/metrics/repeated-readings.md): r1 is significant where
/// r1 > (-1 + 2.3263 sqrt(n - 2))/(n - 1) (Anderson, one-sided 1 %).
struct Autocorrelation {
    double r1 = 0;
    bool significant = false;
    double r = 0;            ///< bias-corrected, clipped to 0 ... 0.95; 0 where not significant
    double effective_n = 0;  ///< n where not significant, else max(2, n(1-r)/(1+r))
    double variance_factor =
        1;  ///< of the variance of the mean: u^2 = s^2/n * factor, factor = (n-1)/(n_eff-1)
    double degrees_of_freedom = 0;  ///< n - 1, or max(1, floor(n_eff - 1))
};
/// For n < 10 never significant.
[[nodiscard]] Autocorrelation autocorrelation(std::span<const double> values);

/// The correlation of neighbouring readings of one device, from many sets too short to show it themselves.
///
/// Of n independent normal readings r1 has the mean -1/n and the variance (n-2)^2/(n^2 (n-1)) (Moran,
/// Biometrika 35 (1948) 255-260); at a small correlation r its mean is (1-2/n)^2 r - 1/n (own
/// derivation, docs/metrics/repeated-readings.md). r is the mean of (r1 + 1/n)/(1-2/n)^2 weighed by the
/// reciprocals of the variances, n - 1 times (1-2/n)^2; the reciprocal of its own variance is their sum.
struct DeviceCorrelation {
    double sum = 0;     ///< of (n - 1)(r1 + 1/n)
    double weight = 0;  ///< sum of (n - 1)(1 - 2/n)^2
    double sets = 0, readings = 0;
    /// A set of fewer than three readings, or of equal ones, tells nothing and does not count.
    void add(std::span<const double> values);
    [[nodiscard]] double estimate() const { return weight > 0 ? sum / weight : 0.0; }
    /// What one set of n readings says: (r1 + 1/n)/(1-2/n)^2.
    [[nodiscard]] static double estimate_of(double r1, double n);
    /// Above 0 at one-sided 5 %: estimate > 1.6449/sqrt(weight). A false alarm widens an interval a little, a
    /// correlation that is passed over leaves it too narrow by far more: hence no 1 %.
    [[nodiscard]] bool is_significant() const;
    /// As used: the estimate where it is significant, at most 0.95; else 0.
    [[nodiscard]] double r() const;
};

/// Whether a set's own r1 says more than that its device's readings correlate by r: above r by more standard
/// deviations than the largest of so many sets is at one-sided 1 % (quantile of 1 - 0.01/sets, as in
/// Cochran's test). The standard deviation is that of DeviceCorrelation times sqrt(1 - r^2), as of many
/// readings of a first-order process. Domain: n > 2, 0 <= r < 1, at least one set.
[[nodiscard]] bool correlates_beyond(double r1, double n, double r, double sets);

/// What a set of n readings of variance 1 with the correlation r makes of mean and sum of squares.
struct CorrelatedSet {
    double effective_n = 0;      ///< 1/variance of the mean; n where r = 0
    double trace = 0;            ///< expectation of the sum of squared deviations; n - 1 where r = 0
    double trace_of_square = 0;  ///< half the variance of that sum; n - 1 where r = 0
};
/// Closed forms over the matrix r^|i-j| (Bayley and Hammersley, Journal of the Royal Statistical Society
/// Supplement 8 (1946) 184-197). Domain: n >= 1, 0 <= r < 1.
[[nodiscard]] CorrelatedSet correlated_set(double n, double r);

/// Degrees of freedom of a variance from sums of squares with these traces (Satterthwaite), where r is known
/// from sets of this weight. As u^2 moves with (1+r)/(1-r), a standard deviation 1/sqrt(weight) of r counts
/// like weight (1 - r^2)^2/2 degrees of freedom of its own. At least 1.
[[nodiscard]] double correlated_degrees_of_freedom(double trace, double trace_of_square, double r,
                                                   double weight);

}  // namespace luxdossier::statistics
