#include "photometry/curve.hpp"

#include "photometry/hermite.hpp"
#include "photometry/support.hpp"

#include <numbers>

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::photometry;
using test::agree;

namespace {

constexpr double degrees = 180 / std::numbers::pi;

MonotoneCubic uneven()
{
    const test::UnevenCurve curve;
    return {curve.x, curve.y};
}

}  // namespace

TEST_CASE("inner slopes are those of another monotone cubic", "[photometry]")
{
    // scipy.interpolate.PchipInterpolator (SciPy 1.10.1), its derivative at the inner nodes of the same
    // points.
    const std::vector<double> expected{0.8603406326034064,
                                       0.9272727272727269,
                                       0.7840909090909088,
                                       0.250909090909091,
                                       0.1500000000000001,
                                       0.0,
                                       -0.07543138866064099,
                                       -0.5429954151808455,
                                       0.0,
                                       0.0,
                                       -1.1127906976744186};
    const auto curve = uneven();
    for (std::size_t i = 0; i < expected.size(); ++i) {
        CAPTURE(i);
        CHECK(agree(curve.slopes()[i + 1], expected[i], 1e-14, 1e-15));
    }
}

TEST_CASE("end slopes are the secants", "[photometry]")
{
    const auto curve = uneven();
    CHECK(agree(curve.slopes().front(), (0.21 - 0.002) / 0.3, 1e-14));
    CHECK(agree(curve.slopes().back(), (0.01 - 0.3) / 0.25, 1e-14));
}

TEST_CASE("values and slopes between nodes are those of a Hermite cubic", "[photometry]")
{
    // scipy.interpolate.CubicHermiteSpline (SciPy 1.10.1) on the same points and slopes.
    struct Row {
        double at, value, slope;
    };
    const auto row = GENERATE(values<Row>({{-1.4, 0.06762206001622063, 0.6376642335766421},
                                           {-0.5, 0.8866430976430977, 0.7608585858585863},
                                           {0.1, 0.9982903533278553, -0.033461955628594935},
                                           {0.9, 0.62, 0.0},
                                           {1.5, 0.06837767441860469, -1.1732186046511626}}));
    CAPTURE(row.at);
    const auto curve = uneven();
    CHECK(agree(curve(row.at), row.value, 1e-14));
    CHECK(agree(curve.derivative(row.at), row.slope, 1e-13, 1e-15));
}

TEST_CASE("a curve of two points is their straight line", "[photometry]")
{
    const std::vector<double> x{1, 3}, y{2, -4};
    const MonotoneCubic curve(x, y);
    CHECK(curve(1.0) == 2.0);
    CHECK(curve(3.0) == -4.0);
    CHECK(agree(curve(1.5), 0.5, 1e-15));
    CHECK(curve.crossings(-1.0) == std::vector<double>{2.0});
}

TEST_CASE("a curve never leaves the range of its neighbouring nodes", "[photometry]")
{
    const auto curve = uneven();
    for (std::size_t i = 0; i + 1 < curve.x().size(); ++i)
        for (int step = 0; step <= 50; ++step) {
            const double at = std::lerp(curve.x()[i], curve.x()[i + 1], step / 50.0);
            CHECK(curve(at) >= std::min(curve.y()[i], curve.y()[i + 1]) - 1e-15);
            CHECK(curve(at) <= std::max(curve.y()[i], curve.y()[i + 1]) + 1e-15);
        }
}

TEST_CASE("a curve is not continued beyond its ends", "[photometry]")
{
    CHECK_THROWS_WITH(uneven()(1.6), "a curve from -1.5 to 1.55 was asked for its value at 1.6");
    CHECK_THROWS_WITH(uneven().derivative(std::nan("")),
                      "a curve from -1.5 to 1.55 was asked for its slope at nan");
}

TEST_CASE("abscissae that do not increase are refused", "[photometry]")
{
    const std::vector<double> x{0, 1, 1}, y{0, 1, 2}, one{1}, gap{0, std::nan(""), 2};
    CHECK_THROWS_WITH(MonotoneCubic(x, y), "abscissa 1 follows 1 in a curve, expected increasing values");
    CHECK_THROWS_WITH(MonotoneCubic(one, one),
                      "a curve has 1 abscissae and 1 ordinates, expected the same number, at least 2");
    CHECK_THROWS_WITH(MonotoneCubic(y, gap), "point 2 of a curve is (1, nan), expected finite values");
}

TEST_CASE("crossings are the roots of the cubic", "[photometry]")
{
    // scipy.optimize.brentq (SciPy 1.10.1) on the same cubic.
    const auto found = uneven().crossings(0.5);
    REQUIRE(found.size() == 2);
    CHECK(agree(found[0], -0.9487362903259025, 1e-14));
    CHECK(agree(found[1], 1.1513061803308426, 1e-14));
}

TEST_CASE("the half-response angle of cos^n is met the closer the finer the scan", "[photometry]")
{
    // Closed form arccos(0.5^(1/n)). For n = 3 it is 37.467 degrees, between the nodes of every grid used
    // here.
    const double power = GENERATE(3.0, 1.3);
    const double expected = std::acos(std::pow(0.5, 1 / power));
    double last = 1;
    for (const int steps : {18, 90, 450}) {
        const test::CosinePower scan(power, steps);
        const auto found = MonotoneCubic(scan.x, scan.y).crossings(0.5);
        REQUIRE(found.size() == 2);
        CHECK(agree(found[0], -found[1], 1e-13));
        const double miss = std::abs(found[1] - expected) * degrees;
        CAPTURE(power, steps, miss);
        CHECK(miss < last / 25);  // second order at least: a fifth of the step, a 25th of the miss
        last = miss;
    }
    CHECK(last < 1e-5);
}

TEST_CASE("crossings count passages, not touches", "[photometry]")
{
    const std::vector<double> x{0, 1, 2, 3, 4, 5, 6};
    SECTION("a node on the level where the curve goes through is one crossing")
    {
        const std::vector<double> y{1, 0.9, 0.5, 0.3, 0.2, 0.1, 0};
        CHECK(MonotoneCubic(x, y).crossings(0.5) == std::vector<double>{2.0});
    }
    SECTION("a node that only touches is none")
    {
        const std::vector<double> y{1, 0.9, 0.5, 0.6, 0.7, 0.8, 0.9};
        CHECK(MonotoneCubic(x, y).crossings(0.5).empty());
    }
    SECTION("of a plateau on the level both ends are given")
    {
        const std::vector<double> y{1, 0.9, 0.5, 0.5, 0.5, 0.1, 0};
        CHECK(MonotoneCubic(x, y).crossings(0.5) == std::vector<double>{2.0, 4.0});
    }
    SECTION("several passages are all found")
    {
        const std::vector<double> y{1, 0.4, 0.6, 0.4, 0.6, 0.4, 0.3};
        CHECK(MonotoneCubic(x, y).crossings(0.5).size() == 5);
    }
    SECTION("a curve that ends on the level has not passed it")
    {
        const std::vector<double> y{1, 0.9, 0.8, 0.7, 0.6, 0.55, 0.5};
        CHECK(MonotoneCubic(x, y).crossings(0.5).empty());
    }
}

TEST_CASE("derivatives of a crossing by all angles and values meet central differences", "[photometry]")
{
    const auto index = GENERATE(std::size_t{0}, std::size_t{1});
    const auto level = GENERATE(0.5, 0.8, 0.15);
    CAPTURE(index, level);
    const auto inputs = test::UnevenCurve{}.inputs();
    const auto estimator = crossing_estimator(level, index);
    const auto found = test::derivatives_of(*estimator, inputs);
    const auto expected = test::differences_of(*estimator, inputs, 1e-6);
    int contributing = 0;
    for (std::size_t i = 0; i < inputs.size(); ++i) {
        // The plateau between 0.8 and 1.0 is a kink of both its slopes by the values that make it: left out.
        const std::size_t node = i % 13;
        if (node == 9 || node == 10)
            continue;
        CAPTURE(i);
        CHECK(agree(found[i], expected[i], 1e-7, 1e-8));
        contributing += found[i] != 0;
    }
    CHECK(contributing >= 4);
}

TEST_CASE("a crossing shifts with all angles and scales with them", "[photometry]")
{
    const auto inputs = test::UnevenCurve{}.inputs();
    const auto found = test::derivatives_of(*crossing_estimator(0.5, 0), inputs);
    double shift = 0, scale = 0;
    for (std::size_t i = 0; i < 13; ++i) {
        shift += found[i];
        scale += found[i] * inputs[i];
    }
    CHECK(agree(shift, 1.0, 1e-13));
    CHECK(agree(scale, -0.9487362903259025, 1e-13));
}

TEST_CASE("the target estimator reads its curve and its slope", "[photometry]")
{
    const auto estimator = target_estimator(uneven());
    CHECK(test::output_of(*estimator, {0.1}) == uneven()(0.1));
    const auto derivative = test::derivatives_of(*estimator, {-0.5});
    CHECK(agree(derivative[0], 0.7608585858585863, 1e-13));
    CHECK(agree(derivative[0], test::differences_of(*estimator, {-0.5}, 1e-6)[0], 1e-8));
}
