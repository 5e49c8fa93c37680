#pragma once

#include <cstddef>

namespace luxdossier::statistics {

/// Factor k of the two-sided statistical tolerance interval mean -+ k s of a normal population, mean and
/// standard deviation unknown: with the stated confidence the interval holds at least `content` of the
/// population. Exact: the integral over the mean of the chi-square probability that the interval suffices is
/// solved for k.
///
/// Domain: n >= 2, 0 < content < 1, 0 < confidence < 1. Errors: std::domain_error.
/// Source: ISO 16269-6:2014, annex with factors for unknown standard deviation; Odeh and Owen (1980).
[[nodiscard]] double two_sided_tolerance_factor(std::size_t n, double content, double confidence);

/// Factor of the one-sided interval (mean + k s or mean - k s): t(confidence; n - 1, z_content sqrt(n))/
/// sqrt(n), non-central t. Domain and source as above.
[[nodiscard]] double one_sided_tolerance_factor(std::size_t n, double content, double confidence);

}  // namespace luxdossier::statistics
