#include "statistics/tolerance.hpp"

#include <cmath>
#include <stdexcept>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::statistics;
using luxdossier::test::published;

TEST_CASE("tolerance factors 95 %/95 % meet the printed tables", "[tolerance][published]")
{
    // ISO 16269-6:2014; the same values in Odeh and Owen (1980), three decimals.
    CHECK(published("ISO 16269-6:2014", "two-sided tolerance factor, n = 10", "3.393",
                    two_sided_tolerance_factor(10, 0.95, 0.95)) == "");
    CHECK(published("ISO 16269-6:2014", "two-sided tolerance factor, n = 30", "2.555",
                    two_sided_tolerance_factor(30, 0.95, 0.95)) == "");
    CHECK(published("ISO 16269-6:2014", "one-sided tolerance factor, n = 10", "2.911",
                    one_sided_tolerance_factor(10, 0.95, 0.95)) == "");
    CHECK(published("ISO 16269-6:2014", "one-sided tolerance factor, n = 30", "2.220",
                    one_sided_tolerance_factor(30, 0.95, 0.95)) == "");
}

TEST_CASE("tolerance factors agree with a second computation to 1e-7", "[tolerance]")
{
    // SciPy: non-central t; the exact integral by Gauss-Hermite quadrature and by adaptive quadrature.
    const auto agree = [](double found, double expected) { return std::abs(found / expected - 1) < 1e-7; };
    CHECK(agree(two_sided_tolerance_factor(10, 0.95, 0.95), 3.393429478712608));
    CHECK(agree(two_sided_tolerance_factor(30, 0.95, 0.95), 2.5548928132776916));
    CHECK(agree(one_sided_tolerance_factor(10, 0.95, 0.95), 2.9109634130781665));
    CHECK(agree(one_sided_tolerance_factor(30, 0.95, 0.95), 2.2198375320350565));
    CHECK(agree(two_sided_tolerance_factor(43, 0.90, 0.99), 2.2228251737911253));
    CHECK(agree(one_sided_tolerance_factor(43, 0.90, 0.99), 1.8739536058511987));
}

TEST_CASE("the exact two-sided factor lies 0.25 % above Howe's approximation in the NIST example",
          "[tolerance][published]")
{
    // NIST/SEMATECH e-Handbook, 7.2.6.3: n = 43, 90 %/99 %, Howe 2.217; one-sided exact 1.8740.
    const double exact = two_sided_tolerance_factor(43, 0.90, 0.99);
    CHECK(std::abs(exact / 2.2173158966536297 - 1.0025) < 0.0001);
    CHECK(published("NIST/SEMATECH e-Handbook, 7.2.6.3", "one-sided tolerance factor, n = 43, 90 %/99 %",
                    "1.8740", one_sided_tolerance_factor(43, 0.90, 0.99)) == "");
}

TEST_CASE("two readings have a factor, one has none", "[tolerance]")
{
    // SciPy, the exact integral by adaptive quadrature.
    CHECK(std::abs(two_sided_tolerance_factor(2, 0.95, 0.95) - 36.51921461206196) < 1e-5);
    CHECK(std::abs(two_sided_tolerance_factor(5, 0.95, 0.95) - 5.076874532067719) < 1e-7);
    CHECK_THROWS_AS(two_sided_tolerance_factor(1, 0.95, 0.95), std::domain_error);
    CHECK_THROWS_AS(two_sided_tolerance_factor(10, 1, 0.95), std::domain_error);
    CHECK_THROWS_AS(one_sided_tolerance_factor(10, 0.95, 0), std::domain_error);
}
