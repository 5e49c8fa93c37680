#include "statistics/tolerance.hpp"

#include <cmath>
#include <stdexcept>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/tools/roots.hpp>
#include <fmt/format.h>

namespace luxdossier::statistics {
namespace {

const boost::math::normal_distribution<double> standard_normal;

void check(std::size_t n, double content, double confidence)
{
    if (n < 2 || !(content > 0 && content < 1) || !(confidence > 0 && confidence < 1))
        throw std::domain_error(fmt::format("found n = {}, content {}, confidence {} for a tolerance "
                                            "interval, expected n >= 2 and fractions between 0 and 1",
                                            n, content, confidence));
}

/// r with Phi(z + r) - Phi(z - r) = content: half-width, in standard deviations, of the interval around a
/// mean that is off by z.
double needed_half_width(double z, double content)
{
    const auto excess = [&](double r) {
        return boost::math::cdf(standard_normal, z + r) - boost::math::cdf(standard_normal, z - r) - content;
    };
    const double low = boost::math::quantile(standard_normal, (1 + content) / 2);  // enough for z = 0
    std::uintmax_t steps = 100;
    const auto found =
        boost::math::tools::toms748_solve(excess, low * (1 - 1e-9), low + std::abs(z) + 1,
                                          boost::math::tools::eps_tolerance<double>(50), steps);
    return (found.first + found.second) / 2;
}

/// Probability that mean -+ k s holds the content: the mean is off by z/sqrt(n), and s must be at least
/// r(z/sqrt(n))/k.
double confidence_of(double k, double n, double content)
{
    const boost::math::chi_squared_distribution<double> chi_squared(n - 1);
    const auto integrand = [&](double z) {
        const double r = needed_half_width(z / std::sqrt(n), content);
        return boost::math::pdf(standard_normal, z) *
               boost::math::cdf(boost::math::complement(chi_squared, (n - 1) * r * r / (k * k)));
    };
    // The density beyond 9 standard deviations is below 1e-18; panels keep the quadrature exact to 1e-12.
    double sum = 0;
    for (int panel = 0; panel < 6; ++panel)
        sum +=
            boost::math::quadrature::gauss<double, 30>::integrate(integrand, 1.5 * panel, 1.5 * (panel + 1));
    return 2 * sum;
}

}  // namespace

double two_sided_tolerance_factor(std::size_t n, double content, double confidence)
{
    check(n, content, confidence);
    const auto size = static_cast<double>(n);
    // Howe's approximation starts the search.
    const boost::math::chi_squared_distribution<double> chi_squared(size - 1);
    const double howe =
        boost::math::quantile(standard_normal, (1 + content) / 2) *
        std::sqrt((size - 1) * (1 + 1 / size) / boost::math::quantile(chi_squared, 1 - confidence));
    const auto excess = [&](double k) { return confidence_of(k, size, content) - confidence; };
    std::uintmax_t steps = 200;
    const auto found = boost::math::tools::bracket_and_solve_root(
        excess, howe, 1.05, true, boost::math::tools::eps_tolerance<double>(40), steps);
    return (found.first + found.second) / 2;
}

double one_sided_tolerance_factor(std::size_t n, double content, double confidence)
{
    check(n, content, confidence);
    const auto size = static_cast<double>(n);
    const double shift = boost::math::quantile(standard_normal, content) * std::sqrt(size);
    const boost::math::non_central_t_distribution<double> distribution(size - 1, shift);
    return boost::math::quantile(distribution, confidence) / std::sqrt(size);
}

}  // namespace luxdossier::statistics
