#include "statistics/line.hpp"

#include <array>
#include <random>
#include <stdexcept>
#include <vector>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::statistics;
using luxdossier::test::agree;
using luxdossier::test::certified;
using luxdossier::test::published;

namespace {

// NIST StRD, linear least squares, Norris (read from the NIST data file): ozone monitors.
constexpr std::array<double, 36> norris_x{0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6,
                                          777.0, 558.2, 0.4,   0.6,   775.5, 666.9, 338.0, 447.5, 11.6,
                                          556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1,
                                          887.2, 999.0, 779.0, 11.1,  118.3, 229.2, 669.1, 448.9, 0.5};
constexpr std::array<double, 36> norris_y{0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1,
                                          778.9, 559.2, 0.3,   0.1,   778.1, 668.8, 339.3, 448.9, 10.8,
                                          557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3,
                                          888.0, 998.5, 778.9, 10.2,  117.6, 228.9, 668.4, 449.2, 0.2};
// JCGM 100:2008, H.3, table H.6: thermometer corrections.
constexpr std::array<double, 11> thermometer_t{21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                                               24.513, 25.002, 25.503, 26.010, 26.511};
constexpr std::array<double, 11> thermometer_b{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                                               -0.156, -0.157, -0.159, -0.161, -0.160};

double greatest_deviation(std::span<const double> x, std::span<const double> y, const Line& line)
{
    double greatest = 0.0;
    for (std::size_t index = 0; index < x.size(); ++index)
        greatest = std::max(greatest, std::abs(y[index] - line.offset - line.gain * x[index]));
    return greatest;
}

}  // namespace

TEST_CASE("a straight line meets the certified values of NIST StRD Norris", "[statistics][published]")
{
    const auto fit = fit_line(norris_x, norris_y);
    CHECK(certified("NIST StRD Norris", "offset", "-0.262323073774029", fit.line.offset, 12) == "");
    CHECK(certified("NIST StRD Norris", "gain", "1.00211681802045", fit.line.gain, 14) == "");
    CHECK(certified("NIST StRD Norris", "standard deviation of the offset", "0.232818234301152",
                    fit.standard_uncertainty_offset, 12) == "");
    CHECK(certified("NIST StRD Norris", "standard deviation of the gain", "0.429796848199937e-3",
                    fit.standard_uncertainty_gain, 12) == "");
    CHECK(certified("NIST StRD Norris", "residual standard deviation", "0.884796396144373",
                    fit.residual_standard_deviation, 12) == "");
    CHECK(agree(fit.covariance, -7.743275363156437e-05, 1e-11));
    CHECK(fit.degrees_of_freedom == 34.0);
}

TEST_CASE("a line through the origin meets the certified values of NIST StRD NoInt1",
          "[statistics][published]")
{
    std::array<double, 11> x{}, y{};
    for (std::size_t index = 0; index < x.size(); ++index) {
        x[index] = 60.0 + static_cast<double>(index);
        y[index] = 130.0 + static_cast<double>(index);
    }
    const auto fit = fit_through_origin(x, y);
    CHECK(certified("NIST StRD NoInt1", "gain", "2.07438016528926", fit.gain, 14) == "");
    CHECK(certified("NIST StRD NoInt1", "standard deviation of the gain", "0.165289256198347e-1",
                    fit.standard_uncertainty, 12) == "");
    CHECK(certified("NIST StRD NoInt1", "residual standard deviation", "3.56753034006338",
                    fit.residual_standard_deviation, 12) == "");
}

TEST_CASE("thermometer calibration line, JCGM 100:2008, H.3", "[statistics][published]")
{
    std::array<double, 11> from_20{};
    for (std::size_t index = 0; index < from_20.size(); ++index)
        from_20[index] = thermometer_t[index] - 20.0;
    const auto fit = fit_line(from_20, thermometer_b);
    CHECK(published("JCGM 100:2008, H.3", "y_1 of the thermometer line / K", "-0.1712", fit.line.offset) ==
          "");
    CHECK(published("JCGM 100:2008, H.3", "u(y_1) / K", "0.0029", fit.standard_uncertainty_offset) == "");
    CHECK(published("JCGM 100:2008, H.3", "y_2", "0.00218", fit.line.gain) == "");
    CHECK(published("JCGM 100:2008, H.3", "u(y_2)", "0.00067", fit.standard_uncertainty_gain) == "");
    CHECK(published("JCGM 100:2008, H.3", "s / K", "0.0035", fit.residual_standard_deviation) == "");
    const double r = fit.covariance / fit.standard_uncertainty_offset / fit.standard_uncertainty_gain;
    CHECK(published("JCGM 100:2008, H.3", "r(y_1, y_2)", "-0.930", r) == "");
    // Recomputed with statsmodels 0.13.5.
    CHECK(agree(fit.line.offset, -0.17120379013134993, 1e-8));
    CHECK(agree(fit.line.gain, 0.0021826977398872772, 1e-8));
    CHECK(agree(fit.standard_uncertainty_offset, 0.0028775978351599503, 1e-8));
    CHECK(agree(r, -0.9304296030934458, 1e-8));
    CHECK(fit.degrees_of_freedom == 9.0);
}

TEST_CASE("a line with known uncertainties of y, ISO/TS 28037:2010, clause 6", "[statistics][published]")
{
    constexpr std::array x{1.0, 2.0, 3.0, 4.0, 5.0, 6.0};
    constexpr std::array y{3.3, 5.6, 7.1, 9.3, 10.7, 12.1};
    const std::vector<double> weights(6, 1.0 / (0.5 * 0.5));
    const auto fit = fit_line(x, y, weights);
    CHECK(published("ISO/TS 28037:2010, clause 6", "offset", "1.867", fit.line.offset) == "");
    CHECK(published("ISO/TS 28037:2010, clause 6", "gain", "1.757", fit.line.gain) == "");
    const double s = fit.residual_standard_deviation;
    CHECK(published("ISO/TS 28037:2010, clause 6", "u(offset)", "0.465",
                    fit.standard_uncertainty_offset / s) == "");
    CHECK(published("ISO/TS 28037:2010, clause 6", "u(gain)", "0.120", fit.standard_uncertainty_gain / s) ==
          "");
    CHECK(published("ISO/TS 28037:2010, clause 6", "covariance of offset and gain", "-0.050",
                    fit.covariance / (s * s)) == "");
    CHECK(published("ISO/TS 28037:2010, clause 6", "chi squared", "1.665", s * s * fit.degrees_of_freedom) ==
          "");
    CHECK(agree(fit.standard_uncertainty_offset / s, 0.4654746681256314, 1e-10));
}

TEST_CASE("weights may be of any size, only their ratios matter to the line", "[statistics]")
{
    constexpr std::array x{1.0, 2.0, 4.0, 7.0};
    constexpr std::array y{1.1, 2.3, 3.9, 7.2};
    const auto plain = fit_line(x, y, std::array{1.0, 2.0, 3.0, 4.0});
    const auto huge = fit_line(x, y, std::array{1e200, 2e200, 3e200, 4e200});
    CHECK(agree(huge.line.gain, plain.line.gain, 1e-14));
    CHECK(agree(huge.line.offset, plain.line.offset, 1e-13));
}

TEST_CASE("two points make a line without residuals", "[statistics]")
{
    const auto fit = fit_line(std::array{1.0, 3.0}, std::array{2.0, 8.0});
    CHECK(fit.line.gain == 3.0);
    CHECK(fit.line.offset == -1.0);
    CHECK(std::isnan(fit.standard_uncertainty_gain));
    CHECK(fit.degrees_of_freedom == 0.0);
}

TEST_CASE("points that make no line are refused, each with what was found", "[statistics]")
{
    CHECK_THROWS_WITH(fit_line(std::array{2.0, 2.0}, std::array{1.0, 3.0}),
                      "found 2 points that all have x = 2, expected two that differ");
    CHECK_THROWS_WITH(fit_line(std::array{2.0}, std::array{1.0}),
                      "found 1 x, 1 y and 1 weights, expected equal numbers of 2 or more");
    CHECK_THROWS_WITH(fit_line(std::array{1.0, 2.0}, std::array{1.0, 3.0}, std::array{1.0, 0.0}),
                      "found weight 0, expected a finite one above 0");
    CHECK_THROWS_WITH(fit_through_origin(std::array{0.0, 0.0}, std::array{1.0, 3.0}),
                      "found no x other than 0, expected one for a line through the origin");
    CHECK_THROWS_WITH(fit_minimax(std::array{0.0, 1.0}, std::array{1.0, 3.0}),
                      "found 2 x and 2 y, expected equal numbers of 3 or more");
    CHECK_THROWS_WITH(fit_minimax(std::array{5.0, 5.0, 5.0}, std::array{1.0, 3.0, 4.0}),
                      "found 3 points that all have x = 5, expected two that differ");
    // No uncertainty at a point: its weight would be infinite.
    CHECK_THROWS_AS(fit_effective_variance(std::array{1.0, 2.0}, std::array{1.0, 3.0}, std::array{0.0, 0.1},
                                           std::array{0.0, 0.1}),
                    std::domain_error);
}

TEST_CASE("effective-variance weights stand at the slope that they give", "[statistics]")
{
    constexpr std::array x{0.1, 1.0, 10.0, 100.0, 1000.0};
    constexpr std::array y{0.12, 1.02, 10.3, 99.0, 1012.0};
    constexpr std::array u_x{0.001, 0.008, 0.07, 0.6, 8.0};
    constexpr std::array u_y{0.01, 0.012, 0.08, 0.7, 6.0};
    const auto fit = fit_effective_variance(x, y, u_x, u_y);
    CHECK(fit.iterations < 50);
    const auto again = fit_line(x, y, fit.weights).line;
    CHECK(again.gain == fit.line.gain);
    for (std::size_t index = 0; index < x.size(); ++index)
        CHECK(agree(1.0 / fit.weights[index],
                    u_y[index] * u_y[index] + fit.line.gain * fit.line.gain * u_x[index] * u_x[index],
                    1e-13));
    // Without uncertainty of x it is the weighted line of ISO/TS 28037:2010, clause 6.
    const auto plain = fit_effective_variance(x, y, std::array<double, 5>{}, u_y);
    CHECK(plain.iterations <= 2);
}

TEST_CASE("the minimax line of three points and of a parabola is known in closed form", "[statistics]")
{
    const auto three = fit_minimax(std::array{0.0, 1.0, 2.0}, std::array{0.0, 1.0, 0.0});
    CHECK(three.line.gain == 0.0);
    CHECK(three.line.offset == 0.5);
    CHECK(three.deviation == 0.5);
    CHECK(three.active == std::vector<std::size_t>{0, 1, 2});
    // x^2 on [-1, 1]: the line y = 1/2, held by -1, 0 and 1 (Chebyshev).
    std::vector<double> x, y;
    for (int index = -10; index <= 10; ++index) {
        x.push_back(index / 10.0);
        y.push_back(x.back() * x.back());
    }
    const auto parabola = fit_minimax(x, y);
    CHECK(agree(parabola.line.offset, 0.5, 1e-15));
    CHECK(std::abs(parabola.line.gain) < 1e-15);
    CHECK(parabola.active == std::vector<std::size_t>{0, 10, 20});
    // Through (-1, 1): the deviation at the least point of x^2 - 1 - b(x + 1) and at x = 1 are opposite and
    // equal: on the grid, 1 - 2 (1 + b) = ... solved by trying the grid below.
    const auto through_first = fit_minimax_through_first(x, y);
    CHECK(agree(through_first.line.offset - through_first.line.gain, 1.0, 1e-15));
    CHECK(through_first.active.size() == 2);
    CHECK(agree(greatest_deviation(x, y, through_first.line), through_first.deviation, 1e-14));
}

TEST_CASE("no line of a fine grid deviates less than the minimax lines", "[statistics]")
{
    std::mt19937_64 generator(7);
    std::uniform_real_distribution<double> uniform(-1.0, 1.0);
    for (int trial = 0; trial < 200; ++trial) {
        std::vector<double> x, y;
        const int n = 3 + trial % 9;
        for (int index = 0; index < n; ++index) {
            x.push_back(uniform(generator));
            y.push_back(2.0 * x.back() + 0.3 * uniform(generator));
        }
        const auto fit = fit_minimax(x, y);
        CHECK(agree(greatest_deviation(x, y, fit.line), fit.deviation, 1e-12, 1e-15));
        // Three active points, in order of x, deviating alternately by the same amount: then no line is
        // better.
        REQUIRE(fit.active.size() == 3);
        double sign = 0.0, last_x = -2.0;
        for (const auto point : fit.active) {
            const double deviation = y[point] - fit.line.offset - fit.line.gain * x[point];
            CHECK(agree(std::abs(deviation), fit.deviation, 1e-9, 1e-15));
            CHECK(x[point] >= last_x);
            last_x = x[point];
            CHECK(sign * deviation <= 0.0);
            sign = deviation;
        }
        const auto first = fit_minimax_through_first(x, y);
        const auto lowest = static_cast<std::size_t>(std::ranges::min_element(x) - x.begin());
        CHECK(agree(greatest_deviation(x, y, first.line), first.deviation, 1e-12, 1e-15));
        CHECK(agree(first.line.offset + first.line.gain * x[lowest], y[lowest], 1e-12, 1e-14));
        for (double gain = -3.0; gain < 7.0; gain += 0.01)
            CHECK(greatest_deviation(x, y, {y[lowest] - gain * x[lowest], gain}) >= first.deviation - 1e-12);
        CHECK(first.deviation >= fit.deviation - 1e-12);
    }
}

TEST_CASE("minimax lines stand collinear points, repeated x and many points", "[statistics]")
{
    const auto collinear = fit_minimax(std::array{1.0, 2.0, 3.0, 4.0}, std::array{2.0, 4.0, 6.0, 8.0});
    CHECK(collinear.deviation == 0.0);
    CHECK(collinear.line.gain == 2.0);
    REQUIRE(collinear.active.size() == 3);
    const auto through =
        fit_minimax_through_first(std::array{1.0, 2.0, 3.0, 4.0}, std::array{2.0, 4.0, 6.0, 8.0});
    CHECK(through.deviation == 0.0);
    CHECK(through.active.size() == 2);
    const auto repeated = fit_minimax(std::array{1.0, 1.0, 2.0, 2.0}, std::array{0.0, 1.0, 0.0, 1.0});
    CHECK(repeated.deviation == 0.5);
    // Two points share the end, so the strip may swing about them: only one line through x = 1 is through the
    // first.
    CHECK(fit_minimax_through_first(std::array{1.0, 1.0, 2.0}, std::array{0.0, 1.0, 3.0}).deviation >= 1.0);
    std::vector<double> x, y;
    for (int index = 0; index < 5000; ++index) {
        x.push_back(index);
        y.push_back(3.0 * index + (index % 7) * 0.1);
    }
    CHECK(agree(fit_minimax(x, y).deviation, 0.3, 1e-3));
    CHECK(fit_minimax_through_first(x, y).deviation <= 0.6);
}
