#include "statistics/detection.hpp"

#include "uncertainty/coverage.hpp"

#include <stdexcept>

#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/tools/roots.hpp>
#include <fmt/format.h>

namespace luxdossier::statistics {

double detection_non_centrality(double degrees_of_freedom, double alpha, double beta)
{
    if (!(degrees_of_freedom >= 1) || !(alpha > 0 && alpha < 0.5) || !(beta > 0 && beta < 0.5))
        throw std::domain_error(
            fmt::format("found nu = {}, alpha = {}, beta = {} for a detection limit, expected nu >= 1 and "
                        "probabilities between 0 and 0.5",
                        degrees_of_freedom, alpha, beta));
    const double critical = uncertainty::t_quantile(1 - alpha, degrees_of_freedom);
    const auto excess = [&](double delta) {
        const boost::math::non_central_t_distribution<double> distribution(degrees_of_freedom, delta);
        return boost::math::cdf(distribution, critical) - beta;
    };
    std::uintmax_t steps = 200;
    const auto found = boost::math::tools::bracket_and_solve_root(
        excess, 2 * critical, 1.2, false, boost::math::tools::eps_tolerance<double>(40), steps);
    return (found.first + found.second) / 2;
}

}  // namespace luxdossier::statistics
