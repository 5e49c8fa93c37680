#include "uncertainty/coverage.hpp"

#include "uncertainty/graph.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <stdexcept>

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <fmt/format.h>

namespace luxdossier::uncertainty {
namespace {

using boost::math::complement;
using boost::math::normal_distribution;
using boost::math::students_t_distribution;

constexpr double smallest_degrees_of_freedom = 0.05;
constexpr double normal_above = 1e9;

void check_degrees_of_freedom(double degrees_of_freedom)
{
    if (!(degrees_of_freedom > 0.0))
        throw std::domain_error(
            fmt::format("found {} degrees of freedom, expected more than 0", degrees_of_freedom));
}

void check_probability(double probability)
{
    if (!(probability > 0.0 && probability < 1.0))
        throw std::domain_error(
            fmt::format("found probability {}, expected one between 0 and 1", probability));
}

/// The value that is exceeded with the probability `upper_tail`.
double quantile_of_tail(double upper_tail, double degrees_of_freedom)
{
    if (degrees_of_freedom > normal_above)
        return boost::math::quantile(complement(normal_distribution<>{}, upper_tail));
    return boost::math::quantile(complement(students_t_distribution<>{degrees_of_freedom}, upper_tail));
}

double tail_probability(double t, double degrees_of_freedom)
{
    if (degrees_of_freedom > normal_above)
        return boost::math::cdf(complement(normal_distribution<>{}, t));
    return boost::math::cdf(complement(students_t_distribution<>{degrees_of_freedom}, t));
}

}  // namespace

double coverage_factor(double coverage_probability, double degrees_of_freedom)
{
    check_probability(coverage_probability);
    check_degrees_of_freedom(degrees_of_freedom);
    return quantile_of_tail((1.0 - coverage_probability) / 2.0, degrees_of_freedom);
}

double t_probability(double t, double degrees_of_freedom)
{
    check_degrees_of_freedom(degrees_of_freedom);
    if (std::isnan(t))
        throw std::domain_error("found NaN, expected a value of Student's t");
    if (std::isinf(t))
        return t > 0.0 ? 1.0 : 0.0;
    return tail_probability(-t, degrees_of_freedom);
}

double t_quantile(double probability, double degrees_of_freedom)
{
    check_probability(probability);
    check_degrees_of_freedom(degrees_of_freedom);
    return probability > 0.5 ? quantile_of_tail(1.0 - probability, degrees_of_freedom)
                             : -quantile_of_tail(probability, degrees_of_freedom);
}

double degrees_of_freedom_of(double factor, double coverage_probability)
{
    check_probability(coverage_probability);
    if (!(factor > 0.0) || std::isinf(factor))
        throw std::domain_error(
            fmt::format("found coverage factor {}, expected a finite one above 0", factor));
    constexpr double rounding = 0.005;  // of a factor that is stated with two decimals
    constexpr double slack = 1e-12;
    const bool is_usual_two = std::abs(factor - 2.0) <= rounding + slack &&
                              coverage_probability >= 0.95 - slack && coverage_probability <= 0.9545 + slack;
    if (is_usual_two || factor <= coverage_factor(coverage_probability, infinite) + rounding)
        return infinite;
    const double tail = (1.0 - coverage_probability) / 2.0;
    const auto excess = [&](double logarithm) {
        // A tail that underflows must not become minus infinity, from which the solver interpolates NaN.
        return std::log(std::max(tail_probability(factor, std::exp(logarithm)), 1e-300) / tail);
    };
    const double low = std::log(smallest_degrees_of_freedom);
    const double high = std::log(normal_above);
    if (!(excess(low) > 0.0))
        return smallest_degrees_of_freedom;
    std::uintmax_t iterations = 200;
    const auto bracket = boost::math::tools::toms748_solve(
        excess, low, high, boost::math::tools::eps_tolerance<double>(), iterations);
    return std::exp((bracket.first + bracket.second) / 2.0);
}

double truncated_degrees_of_freedom(double degrees_of_freedom)
{
    check_degrees_of_freedom(degrees_of_freedom);
    // One term of 9 degrees of freedom must give 9, not 8.999...
    const double widened = degrees_of_freedom * (1.0 + 1e-9);
    if (widened > normal_above)
        return infinite;
    return widened < 1.0 ? 1.0 : std::floor(widened);
}

}  // namespace luxdossier::uncertainty
