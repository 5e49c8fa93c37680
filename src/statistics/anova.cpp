#include "statistics/anova.hpp"

#include "statistics/sum.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <boost/math/distributions/fisher_f.hpp>
#include <fmt/format.h>

namespace luxdossier::statistics {
namespace {

/// Mean in two passes: the second takes off what rounding left in the first.
double mean_of(std::span<const double> values)
{
    const auto n = static_cast<double>(values.size());
    CompensatedSum sum;
    for (const double value : values)
        sum.add(value);
    const double first = sum.value() / n;
    CompensatedSum rest;
    for (const double value : values)
        rest.add(value - first);
    return first + rest.value() / n;
}

/// F and what follows from it, where there is scatter within the groups.
void judge(OneWayAnova& anova)
{
    using boost::math::fisher_f_distribution;
    const fisher_f_distribution<double> distribution(anova.df_between, anova.df_within);
    anova.f = anova.ms_between / anova.ms_within;
    anova.p_value = boost::math::cdf(boost::math::complement(distribution, anova.f));
    constexpr double confidence = 0.95;
    const double ratio = anova.f / boost::math::quantile(distribution, 1 - confidence) - 1;
    anova.between_variance_upper = std::max(0.0, anova.ms_within * ratio / anova.effective_size);
}

}  // namespace

OneWayAnova analyse_one_way(std::span<const std::vector<double>> groups)
{
    OneWayAnova anova;
    anova.groups = groups.size();
    std::vector<double> all;
    double squared_sizes = 0;
    for (const auto& group : groups) {
        if (group.empty())
            throw std::domain_error("found an empty group in an analysis of variance");
        all.insert(all.end(), group.begin(), group.end());
        squared_sizes += static_cast<double>(group.size()) * static_cast<double>(group.size());
    }
    anova.n = all.size();
    if (groups.size() < 2 || all.size() <= groups.size())
        throw std::domain_error(
            fmt::format("found {} readings in {} groups, expected 2 groups or more and more readings than "
                        "groups",
                        all.size(), groups.size()));
    const auto n = static_cast<double>(anova.n), k = static_cast<double>(anova.groups);
    anova.mean = mean_of(all);
    CompensatedSum between, within;
    for (const auto& group : groups) {
        const double mean = mean_of(group);
        const double off = mean - anova.mean;
        between.add(static_cast<double>(group.size()) * off * off);
        for (const double value : group)
            within.add((value - mean) * (value - mean));
    }
    anova.ss_between = between.value();
    anova.ss_within = within.value();
    anova.df_between = k - 1;
    anova.df_within = n - k;
    anova.ms_between = anova.ss_between / anova.df_between;
    anova.ms_within = anova.ss_within / anova.df_within;
    anova.residual_standard_deviation = std::sqrt(anova.ms_within);
    anova.effective_size = (n - squared_sizes / n) / (k - 1);
    const double total = anova.ss_between + anova.ss_within;
    anova.r_squared = total > 0 ? anova.ss_between / total : 0;
    const double component = (anova.ms_between - anova.ms_within) / anova.effective_size;
    anova.negative = component < 0;
    anova.between_variance = std::max(0.0, component);
    anova.between_variance_upper = anova.between_variance;
    if (anova.ms_within > 0) {
        judge(anova);
    } else {
        anova.f = anova.ms_between > 0 ? std::numeric_limits<double>::infinity()
                                       : std::numeric_limits<double>::quiet_NaN();
        anova.p_value = anova.ms_between > 0 ? 0 : 1;
    }
    return anova;
}

}  // namespace luxdossier::statistics
