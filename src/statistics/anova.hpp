#pragma once

#include <span>
#include <vector>

namespace luxdossier::statistics {

/// One-way analysis of variance of groups that need not be of one size.
struct OneWayAnova {
    std::size_t groups = 0, n = 0;
    double mean = 0;
    double ss_between = 0, ss_within = 0;
    double df_between = 0, df_within = 0;
    double ms_between = 0, ms_within = 0;
    double f = 0;        ///< infinite where the groups hold no scatter but differ; NaN where they do not
    double p_value = 1;  ///< probability of an F that is not smaller, without a difference between groups
    double r_squared = 0;
    double residual_standard_deviation = 0;
    double effective_size = 0;    ///< n_0 = (N - sum n_i^2/N)/(k - 1): the common size of equal groups
    double between_variance = 0;  ///< (MS_between - MS_within)/n_0, 0 where that is negative
    bool negative = false;        ///< it was
    /// Upper bound of the between-group variance with 95 % confidence, from the ratio of the two variances:
    /// MS_within (F/F(0.05; nu_between, nu_within) - 1)/n_0; exact for the ratio in groups of one size.
    double between_variance_upper = 0;
};

/// Domain: 2 groups or more, none empty, more readings than groups. Errors: std::domain_error.
/// Source: ISO 5725-2:2019, 7.4 (components of variance); Searle, Casella, McCulloch, Variance Components
/// (1992), 3.5 (ratio of variances).
[[nodiscard]] OneWayAnova analyse_one_way(std::span<const std::vector<double>> groups);

}  // namespace luxdossier::statistics
