#pragma once

namespace luxdossier::uncertainty {

/// Coverage factor k_p, the two-sided quantile of Student's t (infinite degrees of freedom: normal).
///
/// Domain: 0 < coverage_probability < 1, a fraction; 0 < degrees_of_freedom <= infinity, not truncated here.
/// Errors: std::domain_error if an argument is NaN or outside its domain.
/// Source: JCGM 100:2008 (GUM), G.6.4, steps 3 and 4; tabulated in Table G.2.
[[nodiscard]] double coverage_factor(double coverage_probability, double degrees_of_freedom);

/// Probability that a variable of Student's t (infinite degrees of freedom: normal) is at most t.
[[nodiscard]] double t_probability(double t, double degrees_of_freedom);
/// One-sided quantile of Student's t.
[[nodiscard]] double t_quantile(double probability, double degrees_of_freedom);

/// Degrees of freedom for which the two-sided t quantile at `coverage_probability` equals `coverage_factor`,
/// not rounded; infinite where coverage_factor <= z + 0.005, or where it is 2 (+-0.005) with 0.95 <= p <=
/// 0.9545. Never below 0.05, which no stated coverage factor reaches (t is above 1e30 there). Domain:
/// coverage_factor > 0, 0 < coverage_probability < 1. Errors: std::domain_error.
[[nodiscard]] double degrees_of_freedom_of(double coverage_factor, double coverage_probability);

/// nu multiplied by 1 + 1e-9, truncated to an integer (JCGM 100:2008, G.4.1), at least 1; above 1e9 infinite.
[[nodiscard]] double truncated_degrees_of_freedom(double degrees_of_freedom);

}  // namespace luxdossier::uncertainty
