#include "uncertainty/coverage.hpp"

#include "uncertainty/graph.hpp"

#include <array>
#include <cstdio>
#include <stdexcept>
#include <string>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::uncertainty;
using luxdossier::test::agree;
using luxdossier::test::published;

namespace {

/// Table G.2 of JCGM 100:2008 as printed. The 1st, 4th and 6th columns belong to the exact
/// normal probabilities of 1, 2 and 3 standard uncertainties.
constexpr std::array probabilities{0.6826894921370859, 0.90, 0.95,
                                   0.9544997361036416, 0.99, 0.9973002039367398};
struct Row {
    double degrees_of_freedom;
    std::array<double, 6> t;
    int decimals;
};
constexpr std::array table_g2{
    Row{1, {1.84, 6.31, 12.71, 13.97, 63.66, 235.80}, 2},
    Row{2, {1.32, 2.92, 4.30, 4.53, 9.92, 19.21}, 2},
    Row{3, {1.20, 2.35, 3.18, 3.31, 5.84, 9.22}, 2},
    Row{4, {1.14, 2.13, 2.78, 2.87, 4.60, 6.62}, 2},
    Row{5, {1.11, 2.02, 2.57, 2.65, 4.03, 5.51}, 2},
    Row{6, {1.09, 1.94, 2.45, 2.52, 3.71, 4.90}, 2},
    Row{8, {1.07, 1.86, 2.31, 2.37, 3.36, 4.28}, 2},
    Row{10, {1.05, 1.81, 2.23, 2.28, 3.17, 3.96}, 2},
    Row{16, {1.03, 1.75, 2.12, 2.17, 2.92, 3.54}, 2},
    Row{20, {1.03, 1.72, 2.09, 2.13, 2.85, 3.42}, 2},
    Row{30, {1.02, 1.70, 2.04, 2.09, 2.75, 3.27}, 2},
    Row{50, {1.01, 1.68, 2.01, 2.05, 2.68, 3.16}, 2},
    Row{100, {1.005, 1.660, 1.984, 2.025, 2.626, 3.077}, 3},
    Row{infinite, {1.000, 1.645, 1.960, 2.000, 2.576, 3.000}, 3},
};

}  // namespace

TEST_CASE("coverage factors agree with JCGM 100:2008, Table G.2", "[uncertainty][published]")
{
    for (const auto& row : table_g2)
        for (std::size_t column = 0; column < row.t.size(); ++column) {
            CAPTURE(row.degrees_of_freedom, probabilities[column]);
            const double k = coverage_factor(probabilities[column], row.degrees_of_freedom);
            const auto written = [](double value, int decimals) {
                std::array<char, 32> text{};
                std::snprintf(text.data(), text.size(), "%.*f", decimals, value);
                return std::string(text.data());
            };
            const auto freedom =
                std::isinf(row.degrees_of_freedom) ? "infinite" : written(row.degrees_of_freedom, 0);
            CHECK(published("JCGM 100:2008, Table G.2",
                            "t(" + written(100 * probabilities[column], 2) + " %), " + freedom +
                                " degrees of freedom",
                            written(row.t[column], row.decimals), k) == "");
        }
}

TEST_CASE("coverage factors agree with an independent computation to full precision", "[uncertainty]")
{
    // One degree of freedom is the Cauchy distribution, two have a closed form as well.
    CHECK(agree(coverage_factor(0.95, 1), std::tan(0.475 * 3.14159265358979323846), 1e-13));
    CHECK(agree(coverage_factor(0.95, 2), 0.95 / std::sqrt(2.0 * 0.975 * 0.025), 1e-13));
    // scipy.stats.t.ppf (good to 1e-10) and norm.ppf, SciPy 1.10.
    CHECK(agree(coverage_factor(0.99, 16), 2.9207816223499967, 1e-10));
    CHECK(agree(coverage_factor(0.95, infinite), 1.959963984540054, 1e-12));
    CHECK(agree(t_quantile(0.95, 10), 1.8124611228107335, 1e-10));
    CHECK(agree(t_quantile(0.05, 10), -1.8124611228107335, 1e-10));
    CHECK(t_quantile(0.5, 3) == 0.0);
}

TEST_CASE("the usual coverage probability gives k = 2.00 for infinite degrees of freedom", "[uncertainty]")
{
    CHECK(std::abs(coverage_factor(0.9545, infinite) - 2.0) < 1e-5);
}

TEST_CASE("t probabilities and quantiles are inverse to each other", "[uncertainty]")
{
    for (const double nu : {1.0, 2.5, 9.0, 1e4, infinite})
        for (const double t : {-7.0, -1.0, 0.0, 0.3, 4.0}) {
            CAPTURE(nu, t);
            CHECK(agree(t_quantile(t_probability(t, nu), nu), t, 1e-7, 1e-12));
        }
    // JCGM 106:2012, Table 1 has the normal distribution: 1.64 -> 0.95.
    CHECK(std::abs(t_probability(1.6448536269514722, infinite) - 0.95) < 1e-15);
    CHECK(t_probability(infinite, 3) == 1.0);
    CHECK(t_probability(-infinite, 3) == 0.0);
}

TEST_CASE("degrees of freedom are found again from a coverage factor", "[uncertainty]")
{
    for (const double nu : {0.5, 1.0, 4.0, 9.7, 30.0})
        for (const double p : {0.90, 0.95, 0.9545, 0.99}) {
            CAPTURE(nu, p);
            CHECK(agree(degrees_of_freedom_of(coverage_factor(p, nu), p), nu, 1e-9));
        }
}

TEST_CASE("a coverage factor of the normal distribution means infinite degrees of freedom", "[uncertainty]")
{
    CHECK(degrees_of_freedom_of(1.96, 0.95) == infinite);
    CHECK(degrees_of_freedom_of(1.9649, 0.95) == infinite);
    CHECK(degrees_of_freedom_of(1.966, 0.95) < 1e4);
    CHECK(degrees_of_freedom_of(2.0, 0.95) == infinite);  // the usual k = 2 of "approximately 95 %"
    CHECK(degrees_of_freedom_of(2.005, 0.9545) == infinite);
    CHECK(degrees_of_freedom_of(2.0, 0.94) < 30.0);
    CHECK(degrees_of_freedom_of(1.0, 0.95) == infinite);  // below the normal quantile
    CHECK(degrees_of_freedom_of(1e300, 0.95) == 0.05);    // absurd, but no crash and no hang
}

TEST_CASE("degrees of freedom are truncated as JCGM 100:2008, G.4.1 asks, rounding aside", "[uncertainty]")
{
    CHECK(truncated_degrees_of_freedom(16.75) == 16.0);
    CHECK(truncated_degrees_of_freedom(8.9999999999) == 9.0);
    CHECK(truncated_degrees_of_freedom(8.99999) == 8.0);
    CHECK(truncated_degrees_of_freedom(0.3) == 1.0);
    CHECK(truncated_degrees_of_freedom(9.9e8) == 9.9e8);
    CHECK(truncated_degrees_of_freedom(1.1e9) == infinite);
    CHECK(truncated_degrees_of_freedom(infinite) == infinite);
}

TEST_CASE("arguments outside the domain are refused, each with what was found", "[uncertainty]")
{
    CHECK_THROWS_WITH(coverage_factor(1.0, 5), "found probability 1, expected one between 0 and 1");
    CHECK_THROWS_WITH(coverage_factor(std::nan(""), 5),
                      "found probability nan, expected one between 0 and 1");
    CHECK_THROWS_WITH(coverage_factor(0.95, 0), "found 0 degrees of freedom, expected more than 0");
    CHECK_THROWS_WITH(t_probability(std::nan(""), 5), "found NaN, expected a value of Student's t");
    CHECK_THROWS_WITH(t_quantile(0, 5), "found probability 0, expected one between 0 and 1");
    CHECK_THROWS_WITH(degrees_of_freedom_of(0, 0.95),
                      "found coverage factor 0, expected a finite one above 0");
    CHECK_THROWS_AS(truncated_degrees_of_freedom(std::nan("")), std::domain_error);
}
