#include "statistics/summary.hpp"

#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include <boost/math/distributions/fisher_f.hpp>
#include <fmt/format.h>

namespace luxdossier::statistics {

double cochran_critical(std::size_t p, std::size_t n, double alpha)
{
    if (p < 2 || n < 2 || !(alpha > 0.0 && alpha < 1.0))
        throw std::domain_error(fmt::format(
            "found {} variances of {} values at {}, expected 2 or more of 2 or more", p, n, alpha));
    const auto sets = static_cast<double>(p);
    const auto freedom = static_cast<double>(n - 1);
    const boost::math::fisher_f_distribution<> distribution{freedom, (sets - 1.0) * freedom};
    const double f = boost::math::quantile(boost::math::complement(distribution, alpha / sets));
    return 1.0 / (1.0 + (sets - 1.0) / f);
}

bool cochran_passes(std::span<const double> variances, std::size_t n, double alpha)
{
    const double critical = cochran_critical(variances.size(), n, alpha);
    const double sum = std::accumulate(variances.begin(), variances.end(), 0.0);
    return sum == 0.0 || *std::ranges::max_element(variances) <= critical * sum;
}

double grubbs_critical(std::size_t n, double alpha)
{
    if (n < 3 || !(alpha > 0.0 && alpha < 1.0))
        throw std::domain_error(fmt::format("found {} values at {}, expected 3 or more", n, alpha));
    const auto count = static_cast<double>(n);
    const double t = uncertainty::t_quantile(1.0 - alpha / (2.0 * count), count - 2.0);
    return (count - 1.0) / std::sqrt(count) * std::sqrt(t * t / (count - 2.0 + t * t));
}

std::optional<Outlier> grubbs(std::span<const double> values)
{
    if (values.size() < 3)
        return std::nullopt;
    const auto summary = summarise(values);
    if (!(summary.standard_deviation > 0.0))
        return std::nullopt;
    Outlier outlier;
    for (std::size_t index = 0; index < values.size(); ++index) {
        const double statistic = std::abs(values[index] - summary.mean) / summary.standard_deviation;
        if (statistic > outlier.statistic) {
            outlier.statistic = statistic;
            outlier.index = index;
        }
    }
    outlier.critical_5 = grubbs_critical(values.size(), 0.05);
    outlier.critical_1 = grubbs_critical(values.size(), 0.01);
    return outlier.statistic > outlier.critical_5 ? std::optional{outlier} : std::nullopt;
}

}  // namespace luxdossier::statistics
