#include "statistics/detection.hpp"

#include <cmath>
#include <stdexcept>

#include "support/catch.hpp"

using luxdossier::statistics::detection_non_centrality;

TEST_CASE("the non-centrality of a detection limit is about twice the quantile", "[detection]")
{
    // SciPy: nct.cdf(t, nu, delta) = 0.05 solved by brentq.
    CHECK(std::abs(detection_non_centrality(9, 0.05, 0.05) - 3.575384834041879) < 1e-8);
    CHECK(std::abs(detection_non_centrality(19, 0.05, 0.05) - 3.4149942101944633) < 1e-8);
    CHECK(std::abs(detection_non_centrality(4, 0.05, 0.05) - 4.067275634663538) < 1e-8);
}

TEST_CASE("a detection limit needs a degree of freedom and small probabilities", "[detection]")
{
    CHECK_THROWS_AS(detection_non_centrality(0, 0.05, 0.05), std::domain_error);
    CHECK_THROWS_AS(detection_non_centrality(9, 0, 0.05), std::domain_error);
    CHECK_THROWS_AS(detection_non_centrality(9, 0.05, 0.5), std::domain_error);
}
