#include "uncertainty/coverage.hpp"
#include "uncertainty/propagation.hpp"

#include "calibration_line.hpp"
#include "quantities.hpp"
#include "uncertainty/expression.hpp"

#include <array>
#include <vector>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::uncertainty;
using luxdossier::test::agree;
using luxdossier::test::published;
using luxdossier::test::quantity;

// Worked examples of the guides. Figures are those that the documents print; recomputed ones
// (python3-uncertainties 3.1.6, SciPy 1.10) are compared at full precision.

TEST_CASE("Type B evaluations of JCGM 100:2008, 4.3.4 to 4.3.9", "[uncertainty][published]")
{
    // 4.3.4: 10.000 742 ohm +- 129 uohm at 99 %: u = 129/2.58 = 50 uohm.
    CHECK(published("JCGM 100:2008, 4.3.4", "normal factor of 99 %", "2.58",
                    coverage_factor(0.99, infinite)) == "");
    CHECK(agree(129.0 / coverage_factor(0.99, infinite), 50.080958323700905, 1e-9));
    // 4.3.5: as likely inside +-0.04 mm as outside: u = 1.48 a = 0.06 mm.
    CHECK(published("JCGM 100:2008, 4.3.5", "u/a where half of the values lie inside +-a", "1.48",
                    1.0 / coverage_factor(0.5, infinite)) == "");
    CHECK(agree(0.04 / coverage_factor(0.5, infinite), 0.05930408874022408, 1e-9));
    // 4.3.6: two chances out of three: the guide takes u = a; exactly 1.0337 a.
    CHECK(agree(1.0 / coverage_factor(2.0 / 3.0, infinite), 1.0336755299239158, 1e-9));
}

TEST_CASE("end-gauge calibration, JCGM 100:2008, H.1", "[uncertainty][published]")
{
    // l = l_S + d - l_S (delta_alpha theta + alpha_S delta_theta); lengths in nm.
    GraphBuilder builder;
    const double third = 1.0 / std::sqrt(3.0);
    const auto standard = builder.input(quantity("l_S", 50.000623e6, 25.0, 18));
    const auto repeatability = builder.input(quantity("d_mean", 215.0, 5.8, 24));
    const auto comparator_random = builder.input(quantity("d_1", 0.0, 3.9, 5));
    const auto comparator_systematic = builder.input(quantity("d_2", 0.0, 6.7, 8));
    const auto delta_alpha = builder.input(quantity("delta_alpha", 0.0, 1e-6 * third, 50));
    const auto alpha = builder.input(quantity("alpha_S", 11.5e-6, 2e-6 * third));
    const auto delta_theta = builder.input(quantity("delta_theta", 0.0, 0.05 * third, 2));
    const auto theta = builder.input(quantity("theta_mean", -0.1, 0.2)) +
                       builder.input(quantity("Delta", 0.0, 0.5 / std::sqrt(2.0)));
    const auto d = repeatability + comparator_random + comparator_systematic;
    const auto length = standard + d - standard * (delta_alpha * theta + alpha * delta_theta);

    const auto u_d = propagate(builder.graph(), d.node(), 0.99).combined;
    CHECK(published("JCGM 100:2008, H.1", "u(d) / nm", "9.7", u_d.standard_uncertainty) == "");
    CHECK(agree(u_d.standard_uncertainty, 9.681941953967707, 1e-9));
    CHECK(u_d.degrees_of_freedom == 25.0);  // printed 25.6 from the rounded 9.7 nm; exactly 25.45

    const auto budget = propagate(builder.graph(), length.node(), 0.99);
    CHECK(agree(budget.combined.value, 50.000838e6, 1e-12));
    CHECK(published("JCGM 100:2008, H.1", "u(l) / nm", "32", budget.combined.standard_uncertainty) == "");
    CHECK(agree(budget.combined.standard_uncertainty, 31.663879111008633, 1e-9));
    CHECK(published("JCGM 100:2008, H.1", "effective degrees of freedom", "16",
                    budget.combined.degrees_of_freedom) == "");
    CHECK(published("JCGM 100:2008, H.1", "t(99 %)", "2.92", budget.combined.coverage_factor) == "");
    // Printed 93 nm = 2.92 x 32 nm, both rounded; exactly 92.48 nm.
    CHECK(agree(budget.combined.expanded_uncertainty, 92.48327619974597, 1e-9));

    const auto contribution = [&](std::string_view symbol) {
        for (const auto& line : budget.lines)
            if (builder.graph().inputs()[line.input.index].symbol == symbol)
                return line.contribution;
        return -1.0;
    };
    CHECK(published("JCGM 100:2008, H.1", "contribution of the standard / nm", "25", contribution("l_S")) ==
          "");
    CHECK(published("JCGM 100:2008, H.1", "contribution of the difference of expansion / nm", "2.9",
                    contribution("delta_alpha")) == "");
    CHECK(published("JCGM 100:2008, H.1", "contribution of the difference of temperature / nm", "16.6",
                    contribution("delta_theta")) == "");
    CHECK(contribution("alpha_S") == 0.0);  // first order vanishes: printed and left out
    CHECK(contribution("theta_mean") == 0.0);
}

TEST_CASE("resistance and reactance observed together, JCGM 100:2008, H.2", "[uncertainty][published]")
{
    constexpr std::array volt{5.007, 4.994, 5.005, 4.990, 4.999};
    constexpr std::array ampere{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3};
    constexpr std::array radian{1.0456, 1.0438, 1.0468, 1.0428, 1.0433};
    const std::array<const std::array<double, 5>*, 3> readings{&volt, &ampere, &radian};
    std::array<double, 3> means{};
    std::vector<double> covariance_of_means(9);
    for (std::size_t row = 0; row < 3; ++row) {
        for (const double value : *readings[row])
            means[row] += value / 5.0;
    }
    for (std::size_t row = 0; row < 3; ++row)
        for (std::size_t column = 0; column < 3; ++column)
            for (std::size_t index = 0; index < 5; ++index)
                covariance_of_means[row * 3 + column] += ((*readings[row])[index] - means[row]) *
                                                         ((*readings[column])[index] - means[column]) /
                                                         (5.0 * 4.0);
    GraphBuilder builder;
    const auto input = [&](const char* symbol, std::size_t row) {
        return builder.input(quantity(symbol, means[row], std::sqrt(covariance_of_means[row * 4]), 4));
    };
    const auto voltage = input("V", 0), current = input("I", 1), phase = input("phi", 2);
    const auto resistance = voltage / current * cosine(phase);
    const auto reactance = voltage / current * sine(phase);
    const auto impedance = voltage / current;
    const auto u = [&](const Expression& result) {
        return propagate(builder.graph(), result.node(), 0.95).combined.standard_uncertainty;
    };
    // Without the correlations (Table H.4 shows how wrong that is).
    CHECK(agree(u(resistance), 0.19454445448858002, 1e-9));
    builder.group({InputGroup::Kind::observed_together,
                   "five observations",
                   {builder.input_of(voltage), builder.input_of(current), builder.input_of(phase)},
                   covariance_of_means,
                   4});
    CHECK(published("JCGM 100:2008, H.2", "R / ohm", "127.732", resistance.value()) == "");
    CHECK(published("JCGM 100:2008, H.2", "X / ohm", "219.847", reactance.value()) == "");
    CHECK(published("JCGM 100:2008, H.2", "Z / ohm", "254.260", impedance.value()) == "");
    CHECK(published("JCGM 100:2008, H.2", "u(R) / ohm", "0.071", u(resistance)) == "");
    CHECK(agree(u(resistance), 0.07107140739699516, 1e-8));
    CHECK(agree(u(reactance), 0.2955816773586383, 1e-8));  // printed 0.295; exactly 0.29558
    CHECK(published("JCGM 100:2008, H.2", "u(Z) / ohm", "0.236", u(impedance)) == "");
    CHECK(agree(u(impedance), 0.2363361300823703, 1e-8));
    const auto correlation = [&](const Expression& a, const Expression& b) {
        return covariance(builder.graph(), a.node(), b.node()) / (u(a) * u(b));
    };
    CHECK(published("JCGM 100:2008, H.2", "r(R, X)", "-0.588", correlation(resistance, reactance)) == "");
    CHECK(published("JCGM 100:2008, H.2", "r(R, Z)", "-0.485", correlation(resistance, impedance)) == "");
    CHECK(published("JCGM 100:2008, H.2", "r(X, Z)", "0.993", correlation(reactance, impedance)) == "");
    CHECK(agree(correlation(resistance, reactance), -0.5884297844235787, 1e-7));
    CHECK(propagate(builder.graph(), reactance.node(), 0.95).combined.degrees_of_freedom == 4.0);
}

TEST_CASE("weight of 10 kg, EA-4/02, example S2", "[uncertainty][published]")
{
    // In mg from 10 kg: m_X = m_S + dm_D + dm + dm_C + dB.
    GraphBuilder builder;
    const double third = 1.0 / std::sqrt(3.0);
    const auto mass =
        builder.input(quantity("m_S", 5.0, 45.0 / 2.0)) + builder.input(quantity("dm_D", 0.0, 15.0 * third)) +
        builder.input(quantity("dm", 20.0, 25.0 / std::sqrt(3.0))) +
        builder.input(quantity("dm_C", 0.0, 10.0 * third)) + builder.input(quantity("dB", 0.0, 10.0 * third));
    const auto combined = propagate(builder.graph(), mass.node(), 0.9545).combined;
    CHECK(combined.value == 25.0);
    // Printed 29.3 mg and 59 mg; the old editions' 8.95 mg for u(dm_D) is not 15/sqrt(3).
    CHECK(agree(combined.standard_uncertainty, 29.261749776799064, 1e-9));
    CHECK(published("EA-4/02, S2", "u(m_X) / mg", "29.3", combined.standard_uncertainty) == "");
    CHECK(published("EA-4/02, S2", "U(m_X) / mg", "59", combined.expanded_uncertainty) == "");
}

TEST_CASE("correction predicted from a calibration line, JCGM 100:2008, H.3", "[uncertainty][published]")
{
    GraphBuilder builder;
    const auto [intercept, slope] = luxdossier::test::calibration_line(builder);
    const auto correction = intercept + slope * (30.0 - 20.0);
    const auto combined = propagate(builder.graph(), correction.node(), 0.95).combined;
    CHECK(published("JCGM 100:2008, H.3", "b(30 degrees) / K", "-0.1494", combined.value) == "");
    CHECK(published("JCGM 100:2008, H.3", "u(b(30 degrees)) / K", "0.0041", combined.standard_uncertainty) ==
          "");
    CHECK(agree(combined.standard_uncertainty, 0.0041385957528549434, 1e-9));
    CHECK(combined.degrees_of_freedom == 9.0);
    // The correlation matters: without it u would be 1.7 times larger and more.
    using Line = luxdossier::test::CalibrationLine;
    CHECK(std::hypot(Line::u_intercept, 10 * Line::u_slope) > 1.7 * combined.standard_uncertainty);
}

TEST_CASE("mean of ten days with a between-day effect, JCGM 100:2008, H.5", "[uncertainty][published]")
{
    // Means of ten days of five readings, in uV above 10 V; u of the mean from the scatter of the days, nu
    // = 9.
    constexpr std::array day_uv{172.0, 116.0, 13.0, 144.0, 106.0, 31.0, 60.0, 125.0, 163.0, 41.0};
    double mean = 0, squares = 0;
    for (const double value : day_uv)
        mean += value / 10;
    for (const double value : day_uv)
        squares += (value - mean) * (value - mean);
    GraphBuilder builder;
    const auto standard =
        builder.input(quantity("V_mean", 10 + mean * 1e-6, std::sqrt(squares / 9 / 10) * 1e-6, 9));
    const auto combined = propagate(builder.graph(), (standard + 0.0).node(), 0.95).combined;
    CHECK(published("JCGM 100:2008, H.5", "mean of the Zener standard / V", "10.000097", combined.value) ==
          "");
    CHECK(published("JCGM 100:2008, H.5", "u of the mean / uV", "18", combined.standard_uncertainty * 1e6) ==
          "");
    CHECK(agree(combined.standard_uncertainty, 18.05328532736109e-6, 1e-9));
    CHECK(agree(combined.coverage_factor, 2.2621571628540993, 1e-9));  // SciPy: t.ppf(0.975, 9)
}
