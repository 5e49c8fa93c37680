#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

namespace luxdossier::statistics {

/// Mean and experimental standard deviation (JCGM 100:2008, 4.2.1, 4.2.2), two passes with compensation, so
/// that NIST StRD NumAcc1 to 4 hold. s is 0 exactly where all values are equal; NaN s where n < 2. Values
/// must be finite.
struct Summary {
    std::size_t n = 0;
    double mean = 0;
    double standard_deviation = 0;
};
[[nodiscard]] Summary summarise(std::span<const double> values);

/// Experimental covariance of paired readings, divisor n - 1 (JCGM 100:2008, C.3.4). Domain: equal sizes, n
/// >= 2.
[[nodiscard]] double covariance(std::span<const double> a, std::span<const double> b);

/// Smallest non-zero difference between sorted values (resolution that the data show); empty where all are
/// equal.
[[nodiscard]] std::optional<double> smallest_step(std::span<const double> values);

/// Cochran's test on p variances of n values each: true where the largest share is not above
/// 1/(1 + (p-1)/F(1 - alpha/p; n-1, (p-1)(n-1))) (ISO 5725-2). Domain: p >= 2, n >= 2.
[[nodiscard]] bool cochran_passes(std::span<const double> variances, std::size_t n, double alpha);
[[nodiscard]] double cochran_critical(std::size_t p, std::size_t n, double alpha);

/// Grubbs' test for one outlier at either end (ISO 5725-2; two-sided critical value
/// (n-1)/sqrt(n) sqrt(t^2/(n-2+t^2)), t at alpha/(2n)). Domain: n >= 3; none where all are equal.
struct Outlier {
    std::size_t index = 0;
    double statistic = 0;
    double critical_5 = 0;
    double critical_1 = 0;
};
/// The most extreme value where it is beyond the 5 % critical value (straggler; beyond 1 %: outlier).
[[nodiscard]] std::optional<Outlier> grubbs(std::span<const double> values);
[[nodiscard]] double grubbs_critical(std::size_t n, double alpha);

/// Overlapping Allan deviation of evenly spaced levels for averaging over m values (NIST SP 1065, 5.2.4 for
/// frequency data). Domain: values.size() >= 2 m + 1.
[[nodiscard]] double overlapping_allan_deviation(std::span<const double> levels, std::size_t m);

}  // namespace luxdossier::statistics
