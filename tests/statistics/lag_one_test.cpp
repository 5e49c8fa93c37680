#include "statistics/lag_one.hpp"

#include "statistics/summary.hpp"

#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>
#include <vector>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::statistics;
using luxdossier::test::agree;

namespace {

/// The matrix of the deviations from the mean, (I - 11'/n) r^|i-j|, element by element.
std::vector<std::vector<double>> centred(int n, double r)
{
    std::vector<std::vector<double>> matrix(static_cast<std::size_t>(n),
                                            std::vector<double>(static_cast<std::size_t>(n)));
    for (int j = 0; j < n; ++j) {
        double mean = 0;
        for (int i = 0; i < n; ++i)
            mean += std::pow(r, std::abs(i - j)) / n;
        for (int i = 0; i < n; ++i)
            matrix[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)] =
                std::pow(r, std::abs(i - j)) - mean;
    }
    return matrix;
}

/// Sets of n readings of a first-order process.
std::vector<std::vector<double>> process(std::size_t sets, std::size_t n, double r)
{
    std::mt19937_64 engine(20);  // raw bits only: what the library makes of them differs between libraries
    const auto normal = [&engine] {
        double sum = 0;
        for (int i = 0; i < 12; ++i)
            sum += static_cast<double>(engine() >> 11) * 0x1p-53;
        return sum - 6;
    };
    std::vector<std::vector<double>> all;
    for (std::size_t set = 0; set < sets; ++set) {
        std::vector<double> values{normal()};
        while (values.size() < n)
            values.push_back(r * values.back() + std::sqrt(1 - r * r) * normal());
        all.push_back(std::move(values));
    }
    return all;
}

}  // namespace

TEST_CASE("autocorrelation inflates the mean only where it is significant", "[statistics]")
{
    // A ramp of 20 values: r1 computed by numpy.
    std::vector<double> ramp;
    for (int index = 0; index < 20; ++index)
        ramp.push_back(index);
    const auto found = autocorrelation(ramp);
    CHECK(agree(found.r1, 0.85, 1e-12));
    CHECK(found.significant);
    CHECK(found.r == 0.95);  // 0.85 + 4.4/20 = 1.07, clipped
    CHECK(found.effective_n == 2.0);
    CHECK(found.variance_factor == 19.0);
    CHECK(found.degrees_of_freedom == 1.0);

    std::vector<double> alternating;
    for (int index = 0; index < 20; ++index)
        alternating.push_back(index % 2);
    const auto none = autocorrelation(alternating);
    CHECK_FALSE(none.significant);
    CHECK(none.variance_factor == 1.0);
    CHECK(none.degrees_of_freedom == 19.0);
    CHECK(none.effective_n == 20.0);

    const auto nine = autocorrelation(std::span(ramp).first(9));
    CHECK_FALSE(nine.significant);
    CHECK(nine.r1 > 0.6);
}

TEST_CASE("autocorrelation is significant above Anderson's one-sided 1 % bound", "[statistics]")
{
    // n = 20: (-1 + 2.3263 sqrt 18)/19 = 0.46682. Ten pairs of values, shifted between blocks, to move r1
    // across it.
    const auto block = [](double height) {
        std::vector<double> values;
        for (int index = 0; index < 20; ++index)
            values.push_back((index % 2 == 0 ? 1.0 : -1.0) + (index < 10 ? height : -height));
        return autocorrelation(values);
    };
    const auto below = block(1.79), above = block(1.80);
    CHECK(below.r1 < 0.46682);
    CHECK_FALSE(below.significant);
    CHECK(above.r1 > 0.46682);
    CHECK(above.significant);
    CHECK(agree(above.r, above.r1 + (1.0 + 4.0 * above.r1) / 20.0, 1e-15));
    CHECK(agree(above.effective_n, 20.0 * (1.0 - above.r) / (1.0 + above.r), 1e-15));
    CHECK(agree(above.variance_factor, 19.0 / (above.effective_n - 1.0), 1e-15));
}

TEST_CASE("mean and sum of squares of a first-order process follow its matrix", "[statistics]")
{
    const double r = GENERATE(0.0, 0.2, 0.6, 0.95);
    const int n = GENERATE(1, 2, 3, 12, 40);
    CAPTURE(n, r);
    double sum = 0, trace = 0, trace_of_square = 0;
    const auto matrix = centred(n, r);
    for (std::size_t i = 0; i < matrix.size(); ++i) {
        trace += matrix[i][i];
        for (std::size_t j = 0; j < matrix.size(); ++j) {
            sum += std::pow(r, std::abs(static_cast<double>(i) - static_cast<double>(j)));
            trace_of_square += matrix[i][j] * matrix[j][i];
        }
    }
    const auto found = correlated_set(n, r);
    CHECK(agree(found.effective_n, n * n / sum, 1e-12));
    CHECK(std::abs(found.trace - trace) <= 1e-11 * n);
    CHECK(std::abs(found.trace_of_square - trace_of_square) <= 1e-10 * n);
    if (r == 0) {
        CHECK(agree(found.effective_n, n, 1e-15));
        CHECK(std::abs(found.trace - (n - 1)) <= 1e-14 * n);
        CHECK(std::abs(found.trace_of_square - (n - 1)) <= 1e-14 * n);
    }
}

TEST_CASE("three readings: the deviations of a first-order process in closed form", "[statistics]")
{
    // (x1 - x3)/sqrt 2 has the variance 1 - r^2, (x1 - 2 x2 + x3)/sqrt 6 has (1-r)(3-r)/3, and they are
    // independent: r = 0.4 gives 0.84 and 0.52.
    const auto found = correlated_set(3, 0.4);
    CHECK(agree(found.trace, 0.84 + 0.52, 1e-14));
    CHECK(agree(found.trace_of_square, 0.84 * 0.84 + 0.52 * 0.52, 1e-13));
    CHECK(agree(found.effective_n, 9 / (3 + 4 * 0.4 + 2 * 0.16), 1e-14));
    // Satterthwaite: 1.36^2/(0.84^2 + 0.52^2) = 1.895 where r is known exactly.
    CHECK(agree(correlated_degrees_of_freedom(found.trace, found.trace_of_square, 0.4, 1e300),
                1.36 * 1.36 / (0.84 * 0.84 + 0.52 * 0.52), 1e-13));
    CHECK(correlated_degrees_of_freedom(found.trace, found.trace_of_square, 0.4, 1.0) == 1.0);
}

TEST_CASE("r1 of independent readings has mean and variance as Moran gives them", "[statistics]")
{
    // Of three normal readings the deviations point in any direction alike: a turn in 360 steps gives the
    // moments of the circle exactly. Mean -1/3, variance (n-2)^2/(n^2 (n-1)) = 1/18.
    DeviceCorrelation device;
    double squares = 0;
    for (int step = 0; step < 360; ++step) {
        const double angle = (step + 0.25) * std::numbers::pi / 180;
        const double even = std::cos(angle) / std::sqrt(6.0), odd = std::sin(angle) / std::sqrt(2.0);
        const std::array values{even + odd, -2 * even, even - odd};
        device.add(values);
        squares += std::pow(lag_one_autocorrelation(values) + 1.0 / 3, 2) / 360;
    }
    CHECK(std::abs(device.sum) < 1e-10);
    CHECK(agree(squares, 1.0 / 18, 1e-10));
    // The weight is the reciprocal of the variance of the estimate: 18/81 a set.
    CHECK(agree(device.weight, 360.0 * 2 / 9, 1e-12));
    CHECK(device.r() == 0.0);
}

TEST_CASE("the correlation of a device is found from sets that are each too short to show it", "[statistics]")
{
    // 4 standard deviations of the estimate, and 0.02 for what is left of the bias at such an r.
    const double r = GENERATE(0.0, 0.2, 0.4, 0.6);
    const std::size_t n = GENERATE(std::size_t{5}, std::size_t{12}, std::size_t{20});
    CAPTURE(r, n);
    DeviceCorrelation device;
    for (const auto& set : process(20'000, n, r))
        device.add(set);
    CHECK(device.sets == 20'000);
    CHECK(device.readings == 20'000.0 * static_cast<double>(n));
    const double slack = (n == 5 ? 0.16 : 0.06) * r;
    CHECK(std::abs(device.estimate() - r) < 4 / std::sqrt(device.weight) + slack);
}

TEST_CASE("about one device in twenty with independent readings is taken for correlated", "[statistics]")
{
    const std::size_t n = GENERATE(std::size_t{3}, std::size_t{12});
    const auto sets = process(24'000, n, 0.0);
    int alarms = 0;
    for (std::size_t first = 0; first < sets.size(); first += 12) {
        DeviceCorrelation device;
        for (std::size_t set = first; set < first + 12; ++set)
            device.add(sets[set]);
        alarms += device.r() > 0;
    }
    CAPTURE(n, alarms);  // of 2000; 99.9 % of a binomial count with 5 % lie between 68 and 133
    CHECK(alarms >= 68);
    CHECK(alarms <= 133);
}

TEST_CASE("equal readings, pairs and what no number can hold say nothing about neighbours", "[statistics]")
{
    DeviceCorrelation device;
    device.add(std::array{4.0, 4.0, 4.0, 4.0});
    device.add(std::array{1.0, 2.0});
    device.add(std::array{1.0});
    device.add({});
    device.add(std::array{1.0, std::numeric_limits<double>::quiet_NaN(), 2.0});
    device.add(std::array{1e300, -1e300, 1e300});
    CHECK(device.sets == 0);
    CHECK(device.estimate() == 0.0);
    CHECK_FALSE(device.is_significant());
    CHECK(device.r() == 0.0);
}
