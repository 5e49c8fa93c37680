#pragma once

namespace luxdossier::statistics {

/// delta(nu; alpha; beta): non-centrality for which a non-central t stays below the (1 - alpha) quantile of
/// Student's t with probability beta; about 2 t for alpha = beta.
///
/// Domain: nu >= 1, 0 < alpha, beta < 0.5. Errors: std::domain_error.
/// Source: ISO 11843-2:2000, 5.3 (minimum detectable value).
[[nodiscard]] double detection_non_centrality(double degrees_of_freedom, double alpha, double beta);

}  // namespace luxdossier::statistics
