#include "uncertainty/propagation.hpp"

#include "uncertainty/coverage.hpp"

#include "quantities.hpp"
#include "uncertainty/expression.hpp"

#include <numeric>
#include <random>
#include <vector>

#include "support/catch.hpp"

using namespace luxdossier::uncertainty;
using luxdossier::test::agree;
using luxdossier::test::quantity;

namespace {

constexpr double two_sigma = 0.9545;

double sum_of_shares(const Budget& budget)
{
    return std::accumulate(budget.lines.begin(), budget.lines.end(), 0.0,
                           [](double sum, const BudgetLine& line) { return sum + line.share; });
}

}  // namespace

TEST_CASE("one term of nine degrees of freedom gives nine", "[uncertainty]")
{
    GraphBuilder builder;
    for (const double u : {1e-150, 0.1, 1.0 / 3.0, 7.7, 1e150}) {
        CAPTURE(u);
        const auto x =
            builder.input(quantity("x" + std::to_string(u) + std::to_string(std::log(u)), 1.0, u, 9));
        const auto combined = propagate(builder.graph(), (x * 1.7).node(), 0.95).combined;
        CHECK(combined.degrees_of_freedom == 9.0);
        CHECK(agree(combined.standard_uncertainty, 1.7 * u, 1e-15));
        CHECK(agree(combined.coverage_factor, 2.2621571627409915, 1e-9));  // scipy.stats.t.ppf(0.975, 9)
    }
}

TEST_CASE("inputs without uncertainty are printed and carry no term", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 2.0, 0.1, 5));
    const auto fixed = builder.input(quantity("fixed", 3.0, 0.0, 1));
    const auto budget = propagate(builder.graph(), (x * fixed).node(), two_sigma);
    REQUIRE(budget.lines.size() == 2);
    CHECK(budget.combined.degrees_of_freedom == 5.0);
    CHECK(budget.lines[1].contribution == 0.0);
    CHECK(budget.lines[1].sensitivity == 2.0);
    CHECK(budget.lines[1].share == 0.0);
}

TEST_CASE("a result without uncertainty has U = 0 and infinite degrees of freedom", "[uncertainty]")
{
    GraphBuilder builder;
    const auto fixed = builder.input(quantity("fixed", 3.0, 0.0, 1));
    for (const auto& result : {fixed * 2.0, builder.constant(4.0)}) {
        const auto combined = propagate(builder.graph(), result.node(), two_sigma).combined;
        CHECK(combined.standard_uncertainty == 0.0);
        CHECK(combined.expanded_uncertainty == 0.0);
        CHECK(combined.degrees_of_freedom == infinite);
    }
}

TEST_CASE("lines stand by contribution, equal ones by identity, and shares add up to 1", "[uncertainty]")
{
    GraphBuilder builder;
    const auto b = builder.input(quantity("b", 1.0, 0.2));
    const auto a = builder.input(quantity("a", 1.0, 0.2));
    const auto c = builder.input(quantity("c", 1.0, 0.1));
    const auto d = builder.input(quantity("d", 1.0, 0.3));
    const auto budget = propagate(builder.graph(), (a + b - c * 3.0 + d * 0.1).node(), two_sigma);
    std::string order;
    for (const auto& line : budget.lines)
        order += builder.graph().inputs()[line.input.index].identity;
    CHECK(order == "cabd");
    CHECK(budget.lines[0].sensitivity == -3.0);
    CHECK(agree(budget.lines[0].contribution, 0.3, 1e-15));
    CHECK(agree(sum_of_shares(budget), 1.0, 1e-15));
}

TEST_CASE("inputs in one group are one term of Welch-Satterthwaite", "[uncertainty]")
{
    GraphBuilder builder;
    const auto a = builder.input(quantity("a", 1.0, 0.2, 4));
    const auto b = builder.input(quantity("b", 1.0, 0.3, 4));
    const auto c = builder.input(quantity("c", 1.0, 0.1, 6));
    // Before they are grouped, a and b are two terms of 4 and give more degrees of freedom than one.
    const auto result = a + b;
    CHECK(propagate(builder.graph(), result.node(), two_sigma).combined.degrees_of_freedom == 6.0);
    builder.group({InputGroup::Kind::observed_together,
                   "readings",
                   {builder.input_of(a), builder.input_of(b)},
                   {0.04, 0.03, 0.03, 0.09},
                   4});
    const auto grouped = propagate(builder.graph(), result.node(), two_sigma);
    CHECK(grouped.combined.degrees_of_freedom == 4.0);
    CHECK(agree(grouped.combined.standard_uncertainty, std::sqrt(0.04 + 0.09 + 0.06), 1e-15));
    CHECK(agree(sum_of_shares(grouped), 1.0, 1e-15));
    // (0.19 + 0.01)^2 / (0.19^2/4 + 0.01^2/6) = 4.42
    CHECK(propagate(builder.graph(), (result + c).node(), two_sigma).combined.degrees_of_freedom == 4.0);
    // One member alone is a term with the group's degrees of freedom.
    // (0.04 + 0.01)^2 / (0.04^2/4 + 0.01^2/6) = 6
    CHECK(propagate(builder.graph(), (a + c).node(), two_sigma).combined.degrees_of_freedom == 6.0);
}

TEST_CASE("readings that cancel in a group leave no negative variance", "[uncertainty]")
{
    GraphBuilder builder;
    const auto a = builder.input(quantity("a", 1.0, 0.1, 4));
    const auto b = builder.input(quantity("b", 1.0, 0.1, 4));
    const double v = 0.1 * 0.1;
    builder.group({InputGroup::Kind::observed_together,
                   "G",
                   {builder.input_of(a), builder.input_of(b)},
                   {v, v, v, v},
                   4});
    const auto combined = propagate(builder.graph(), (a * 3.0 - b * 3.0).node(), two_sigma).combined;
    CHECK(combined.standard_uncertainty == 0.0);
    CHECK(combined.degrees_of_freedom == infinite);
}

TEST_CASE("a share may be negative where a correlation takes uncertainty away", "[uncertainty]")
{
    GraphBuilder builder;
    const auto a = builder.input(quantity("a", 1.0, 0.1, 4));
    const auto b = builder.input(quantity("b", 1.0, 0.3, 4));
    builder.group({InputGroup::Kind::stated,
                   "G",
                   {builder.input_of(a), builder.input_of(b)},
                   {0.01, 0.027, 0.027, 0.09},
                   4});
    const auto budget = propagate(builder.graph(), (b - a).node(), two_sigma);
    CHECK(agree(budget.combined.standard_uncertainty, std::sqrt(0.01 + 0.09 - 2 * 0.027), 1e-14));
    CHECK(budget.lines[1].share < 0.0);
    CHECK(agree(sum_of_shares(budget), 1.0, 1e-14));
}

// JCGM 100:2008, 5.1.2, note. For normal inputs about 0 it is exact: var(ab) = (1 + r^2) u_a^2 u_b^2 and
// var(a^2) = 2 u_a^4 (moments of the bivariate normal distribution, Isserlis 1918).
TEST_CASE("where the first order vanishes, u is that of the second-order term", "[uncertainty]")
{
    for (const double r : {0.0, 0.6}) {
        CAPTURE(r);
        GraphBuilder builder;
        const auto a = builder.input(quantity("a", 0.0, 0.1));
        const auto b = builder.input(quantity("b", 0.0, 0.3));
        if (r != 0.0)
            builder.group({InputGroup::Kind::stated,
                           "G",
                           {builder.input_of(a), builder.input_of(b)},
                           {0.01, 0.03 * r, 0.03 * r, 0.09},
                           infinite});
        for (const auto& [node, u] :
             {std::pair{(a * b).node(), 0.03 * std::sqrt(1 + r * r)},
              std::pair{(a * a).node(), 0.01 * std::sqrt(2.0)}, std::pair{(a * 0.0).node(), 0.0}}) {
            const auto budget = propagate(builder.graph(), node, two_sigma);
            CHECK(budget.combined.is_second_order == (u > 0.0));
            CHECK(agree(budget.combined.standard_uncertainty, u, 1e-12));
            CHECK(sum_of_shares(budget) == 0.0);
            const auto again = propagate(builder.graph(), node, budget.combined);
            CHECK(again.combined.is_second_order == budget.combined.is_second_order);
            CHECK(again.combined.standard_uncertainty == budget.combined.standard_uncertainty);
            CHECK(again.combined.expanded_uncertainty == budget.combined.expanded_uncertainty);
        }
    }
}

TEST_CASE("two results are correlated through shared inputs and through groups", "[uncertainty]")
{
    GraphBuilder builder;
    const auto a = builder.input(quantity("a", 2.0, 0.1));
    const auto b = builder.input(quantity("b", 3.0, 0.2));
    const auto c = builder.input(quantity("c", 4.0, 0.4));
    const auto d = builder.input(quantity("d", 5.0, 0.5));
    builder.group({InputGroup::Kind::stated,
                   "G",
                   {builder.input_of(c), builder.input_of(d)},
                   {0.16, 0.06, 0.06, 0.25},
                   9});
    const auto& graph = builder.graph();
    const auto first = a * b + c, second = a - d * 2.0, third = b + 1.0;
    // b u_a^2 + (1)(-2) u(c, d)
    CHECK(agree(covariance(graph, first.node(), second.node()), 3.0 * 0.01 - 2.0 * 0.06, 1e-14));
    CHECK(covariance(graph, second.node(), first.node()) == covariance(graph, first.node(), second.node()));
    CHECK(covariance(graph, second.node(), third.node()) == 0.0);
    const double u = propagate(graph, first.node(), two_sigma).combined.standard_uncertainty;
    CHECK(agree(covariance(graph, first.node(), first.node()), u * u, 1e-14));
}

TEST_CASE("a value that is not finite has no uncertainty, and nothing crashes", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 0.0, 0.1));
    for (const auto& result : {1.0 / x, natural_logarithm(x - 1.0), square_root(x)}) {
        const auto combined = propagate(builder.graph(), result.node(), two_sigma).combined;
        CHECK(std::isnan(combined.expanded_uncertainty));
        CHECK(std::isnan(combined.degrees_of_freedom));
    }
}

TEST_CASE("first-order propagation agrees with random draws of the same model", "[uncertainty]")
{
    // A ratio of two readings taken together times a shared factor, all with small relative uncertainty, so
    // that the first order holds: D/(R C) - 1.
    GraphBuilder builder;
    const auto d = builder.input(quantity("D", 505.0, 1.0, 19));
    const auto r = builder.input(quantity("R", 498.0, 1.2, 19));
    const auto c = builder.input(quantity("C", 1.004, 0.003));
    const double correlation = 0.7;
    const double shared = correlation * 1.0 * 1.2;
    builder.group({InputGroup::Kind::observed_together,
                   "pair",
                   {builder.input_of(d), builder.input_of(r)},
                   {1.0, shared, shared, 1.44},
                   19});
    const auto error = d / (r * c) - 1.0;
    const auto combined = propagate(builder.graph(), error.node(), two_sigma).combined;

    std::mt19937_64 generator(20250310);
    std::normal_distribution<double> normal;
    const int trials = 200000;
    double sum = 0.0, squares = 0.0;
    for (int trial = 0; trial < trials; ++trial) {
        const double z1 = normal(generator), z2 = normal(generator), z3 = normal(generator);
        const double drawn_d = 505.0 + z1;
        const double drawn_r =
            498.0 + 1.2 * (correlation * z1 + std::sqrt(1 - correlation * correlation) * z2);
        const double deviation = drawn_d / (drawn_r * (1.004 + 0.003 * z3)) - 1.0 - combined.value;
        sum += deviation;
        squares += deviation * deviation;
    }
    const double drawn_u = std::sqrt(squares / trials - (sum / trials) * (sum / trials));
    // The standard deviation of 200 000 draws scatters by 1/sqrt(2 N) = 0.16 %; five times that.
    CHECK(agree(combined.standard_uncertainty, drawn_u, 0.008));
    CHECK(std::abs(sum / trials) < 5.0 * drawn_u / std::sqrt(trials));
}
