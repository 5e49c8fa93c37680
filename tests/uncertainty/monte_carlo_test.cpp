#include "uncertainty/monte_carlo.hpp"

#include "calibration_line.hpp"
#include "quantities.hpp"
#include "uncertainty/coverage.hpp"
#include "uncertainty/expression.hpp"

#include <cmath>
#include <memory>
#include <stdexcept>
#include <vector>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::uncertainty;
using luxdossier::test::published;
using luxdossier::test::quantity;

namespace {

InputQuantity distributed(const std::string& symbol, double estimate, double u, Distribution distribution)
{
    auto input = quantity(symbol, estimate, u);
    input.distribution = distribution;
    return input;
}

InputQuantity rectangle(const std::string& symbol, double estimate, double half_width)
{
    return distributed(symbol, estimate, half_width / std::sqrt(3.0), Distribution::rectangular);
}

InputQuantity student(const std::string& symbol, double estimate, double u, double nu)
{
    auto input = quantity(symbol, estimate, u, nu);
    input.distribution = Distribution::student_t;
    return input;
}

MonteCarloSettings settings_for(double coverage_probability, std::size_t trials = 2'000'000)
{
    MonteCarloSettings settings;
    settings.coverage_probability = coverage_probability;
    settings.largest_trials = trials;
    return settings;
}

MonteCarloResult monte_carlo(const GraphBuilder& builder, const Expression& result,
                             const MonteCarloSettings& settings)
{
    const MonteCarloTarget target{
        result.node(), propagate(builder.graph(), result.node(), settings.coverage_probability).combined,
        false};
    return run_monte_carlo(builder.graph(), {&target, 1}, {}, settings).results.front();
}

bool same(const MonteCarloResult& a, const MonteCarloResult& b)
{
    return a.trials == b.trials && a.mean == b.mean && a.standard_uncertainty == b.standard_uncertainty &&
           a.interval.has_value() == b.interval.has_value() &&
           (!a.interval ||
            (a.interval->lower == b.interval->lower && a.interval->upper == b.interval->upper)) &&
           a.numerical_tolerance == b.numerical_tolerance;
}

/// A model with inputs of each kind, groups and functions.
struct Mixture {
    GraphBuilder builder;
    Expression first, second, third;
    Mixture()
    {
        const auto a = builder.input(student("a", 10.0, 0.1, 4)),
                   b = builder.input(student("b", 5.0, 0.1, 4));
        builder.group({InputGroup::Kind::observed_together,
                       "a and b",
                       {builder.input_of(a), builder.input_of(b)},
                       {0.01, 0.008, 0.008, 0.01},
                       4});
        const auto c = builder.input(quantity("c", 1.0, 0.01));
        const auto d = builder.input(rectangle("d", 0.0, 0.02));
        const auto e = builder.input(distributed("e", 0.0, 0.02, Distribution::arcsine));
        const auto f = builder.input(distributed("f", 1.0, 0.02, Distribution::triangular));
        first = a / b * c + d;
        second = natural_logarithm(a) * (1.0 + e) + d;
        third = first / second * f;
    }
};

}  // namespace

TEST_CASE("four normal inputs, JCGM 101:2008, 9.2.2", "[uncertainty]")
{
    // u = 2.00, 95 % interval [-3.92, 3.92]; exactly +-3.9199.
    GraphBuilder builder;
    const auto y = builder.input(quantity("X1", 0.0, 1.0)) + builder.input(quantity("X2", 0.0, 1.0)) +
                   builder.input(quantity("X3", 0.0, 1.0)) + builder.input(quantity("X4", 0.0, 1.0));
    auto settings = settings_for(0.95);
    settings.significant_digits = 3;
    const auto found = monte_carlo(builder, y, settings);
    // delta is 0.005 for u = 2.00: the ends are known to twice the standard deviation that was reached.
    CHECK(found.asked_tolerance == 0.005);
    CHECK(std::abs(found.mean) < 0.008);
    CHECK(std::abs(*found.standard_uncertainty - 2.0) < 0.005);
    CHECK(std::abs(found.interval->lower + 3.919927969080108) < 2.0 * found.numerical_tolerance);
    CHECK(std::abs(found.interval->upper - 3.919927969080108) < 2.0 * found.numerical_tolerance);
    CHECK(found.validation->validated);
}

TEST_CASE("four rectangular inputs, JCGM 101:2008, 9.2.3", "[uncertainty][published]")
{
    // [-3.88, 3.88]; exactly +-2 sqrt(3) (2 - (3/5)^(1/4)) = 3.8794 (annex E.2).
    const double exact = 2.0 * std::sqrt(3.0) * (2.0 - std::pow(0.6, 0.25));
    GraphBuilder builder;
    const double half_width = std::sqrt(3.0);
    const auto y =
        builder.input(rectangle("X1", 0.0, half_width)) + builder.input(rectangle("X2", 0.0, half_width)) +
        builder.input(rectangle("X3", 0.0, half_width)) + builder.input(rectangle("X4", 0.0, half_width));
    auto settings = settings_for(0.95);
    settings.significant_digits = 3;
    const auto found = monte_carlo(builder, y, settings);
    CHECK(std::abs(*found.standard_uncertainty - 2.0) < 0.005);
    CHECK(std::abs(found.interval->lower + exact) < 0.01);
    CHECK(published("JCGM 101:2008, 9.2.3", "upper end of 95 %, four rectangles, by trials", "3.88",
                    found.interval->upper) == "");
    CHECK(std::abs(found.interval->upper - exact) < 0.01);
}

TEST_CASE("comparison of masses, JCGM 101:2008, 9.3: the first order fails", "[uncertainty]")
{
    // In mg and kg/m^3. Printed Monte Carlo: u = 0.0754, shortest 95 % interval
    // [1.0834, 1.3825]; by quadrature u = 0.075480 and [1.08443, 1.38357]: the printed ones scatter.
    GraphBuilder builder;
    const auto mass = builder.input(quantity("m_Rc", 100000.0, 0.05)),
               small = builder.input(quantity("dm_Rc", 1.234, 0.02));
    const auto air = builder.input(rectangle("rho_a", 1.2, 0.1));
    const auto weight = builder.input(rectangle("rho_W", 8000.0, 1000.0));
    const auto reference = builder.input(rectangle("rho_R", 8000.0, 50.0));
    const auto delta = (mass + small) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / reference)) - 100000.0;
    auto settings = settings_for(0.95);
    const auto found = monte_carlo(builder, delta, settings);
    CHECK(std::abs(found.mean - 1.234) < 0.0003);
    CHECK(std::abs(*found.standard_uncertainty - 0.07547973995541976) < 0.0003);
    CHECK(std::abs(found.interval->lower - 1.0844332987820622) < 0.001);
    CHECK(std::abs(found.interval->upper - 1.3835667791) < 0.001);
    // First order: u = 0.0539, [1.1285, 1.3395]; d is 0.044, delta 0.005.
    CHECK(found.validation->delta == 0.005);
    CHECK(std::abs(found.validation->d_low - 0.04401944207869324) < 0.001);
    CHECK(std::abs(found.validation->d_high - 0.04401945697433707) < 0.001);
    CHECK_FALSE(found.validation->validated);
    settings.shortest = true;
    const auto shortest = monte_carlo(builder, delta, settings);
    CHECK(shortest.is_shortest);
    CHECK(std::abs(shortest.interval->lower - 1.0844332671933445) < 0.004);
    CHECK(std::abs(shortest.interval->upper - 1.3835667477022993) < 0.004);
    CHECK(shortest.interval->upper - shortest.interval->lower < 0.2995);
}

TEST_CASE("two dominant rectangles, EA-4/02, example S10", "[uncertainty][published]")
{
    // In um: printed k = 1.83, U = 0.06 mm; exact convolution of all inputs: 59.3214 um.
    GraphBuilder builder;
    const auto error = 100.0 - builder.input(rectangle("l_S", 0.0, 0.8)) +
                       150000.0 * 1.15e-5 * builder.input(rectangle("dt", 0.0, 2.0)) +
                       builder.input(rectangle("dl_iX", 0.0, 25.0)) +
                       builder.input(rectangle("dl_M", 0.0, 50.0));
    auto settings = settings_for(0.95);
    settings.significant_digits = 3;
    const auto found = monte_carlo(builder, error, settings);
    CHECK(std::abs(*found.standard_uncertainty - 32.339565550575976) < 0.05);
    const double half = (found.interval->upper - found.interval->lower) / 2.0;
    CHECK(std::abs(half - 59.32137867455604) < 0.1);
    CHECK(published("EA-4/02, S10", "coverage factor, by trials", "1.83",
                    half / *found.standard_uncertainty) == "");
}

TEST_CASE("correction predicted from a calibration line, JCGM 100:2008, H.3, by trials", "[uncertainty]")
{
    // Two parameters from one fit are a multivariate t with 9 degrees of freedom (JCGM 101:2008, 6.4.9, and
    // Supplement 2): the sum has a t-distribution with the u of the guide, half-width t(0.95, 9) u.
    GraphBuilder builder;
    const auto [intercept, slope] = luxdossier::test::calibration_line(builder);
    const auto found = monte_carlo(builder, intercept + slope * 10.0, settings_for(0.95));
    const double half = 2.2621571628540993 * 0.0041385957528549434;
    const double allowed = 1.5 * found.numerical_tolerance;
    REQUIRE(allowed < 0.02 * half);
    CHECK(std::abs(found.interval->lower - (-0.14937681273247716 - half)) < allowed);
    CHECK(std::abs(found.interval->upper - (-0.14937681273247716 + half)) < allowed);
    CHECK(found.validation->validated);
}

TEST_CASE("one mean of repeated readings has the interval of Student's t", "[uncertainty]")
{
    // JCGM 101:2008, 6.4.9: scaled and shifted t, so that t(0.95, 3) = 3.182 (Table G.2) is its coverage
    // factor, and nu/(nu - 2) its variance: 3, not 1.
    GraphBuilder builder;
    const auto x = builder.input(student("x", 5.0, 0.2, 3)) * 1.0;
    const auto found = monte_carlo(builder, x, settings_for(0.95));
    CHECK(found.converged);
    CHECK(std::abs(found.interval->upper - (5.0 + 0.2 * 3.182446305284263)) <=
          2.0 * found.numerical_tolerance);
    CHECK(std::abs(*found.standard_uncertainty - 0.2 * std::sqrt(3.0)) < 0.02);
}

TEST_CASE("a t of two degrees of freedom has an interval and no standard uncertainty", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(student("x", 5.0, 0.2, 2)) + builder.input(quantity("z", 0.0, 0.001));
    const auto found = monte_carlo(builder, x, settings_for(0.95));
    CHECK_FALSE(found.standard_uncertainty);
    CHECK(std::abs(found.interval->upper - (5.0 + 0.2 * 4.302652729749464)) <=
          2.0 * found.numerical_tolerance);
}

TEST_CASE("readings taken together are drawn as a multivariate t, JCGM 100:2008, H.2", "[uncertainty]")
{
    // Voltage and current, means of five pairs. With n = 5 the first order has t(0.95, 4) = 2.776; the result
    // is almost linear, so that its distribution is a t with 4 degrees of freedom scaled by u(R) = 0.0711 ohm
    // (Table H.4, approach 1).
    GraphBuilder builder;
    const auto V = builder.input(student("V", 4.999, 0.0032094, 4)),
               I = builder.input(student("I", 19.661e-3, 9.471e-6, 4)),
               phi = builder.input(student("phi", 1.04446, 0.00075207, 4));
    const auto covariance = [](double r, double a, double b) { return r * a * b; };
    const double v = 0.0032094, i = 9.471e-6, p = 0.00075207;
    const double vi = covariance(-0.355311, v, i), vp = covariance(0.857626, v, p),
                 ip = covariance(-0.645113, i, p);
    builder.group({InputGroup::Kind::observed_together,
                   "five observations",
                   {builder.input_of(V), builder.input_of(I), builder.input_of(phi)},
                   {v * v, vi, vp, vi, i * i, ip, vp, ip, p * p},
                   4});
    const auto R = V / I * cosine(phi);
    const auto found = monte_carlo(builder, R, settings_for(0.95));
    const auto first = propagate(builder.graph(), R.node(), 0.95).combined;
    CHECK(std::abs(first.standard_uncertainty - 0.0711) < 0.0005);
    CHECK(std::abs((found.interval->upper - found.interval->lower) / 2.0 - first.expanded_uncertainty) <
          2.0 * found.numerical_tolerance);
    CHECK(found.validation->validated);
}

TEST_CASE("many readings with one pooled s follow one multivariate t", "[uncertainty]")
{
    // The sum of squares of d standard coordinates over d follows F(d, nu): F(0.95; 5, 6) = 4.387 (tables).
    GraphBuilder builder;
    InputGroup group{InputGroup::Kind::pooled, "pool", {}, std::vector<double>(25, 0.0), 6};
    std::vector<Expression> members;
    for (std::size_t index = 0; index < 5; ++index) {
        members.push_back(builder.input(student("x" + std::to_string(index), 0.0, 1.0, 6)));
        group.members.push_back(builder.input_of(members.back()));
        group.covariance[index * 6] = 1.0;
    }
    builder.group(group);
    auto sum = members[0] * members[0];
    for (std::size_t index = 1; index < 5; ++index)
        sum = sum + members[index] * members[index];
    const std::vector<MonteCarloTarget> targets{{(sum / 5.0).node(), {}, false},
                                                {members[4].node(), {}, false}};
    const std::vector<Requirement> requirements{{0, -infinite, 4.387374187437, 0},
                                                {1, -infinite, 1.943180280515, 0}};  // t(0.95; 6), one-sided
    auto settings = settings_for(0.95, 1'000'000);
    settings.significant_digits = 4;
    const auto found = run_monte_carlo(builder.graph(), targets, requirements, settings);
    CHECK(std::abs(found.probabilities[0] - 0.95) < 0.001);
    CHECK(std::abs(found.probabilities[1] - 0.95) < 0.001);
}

TEST_CASE("stated correlations are drawn by Cholesky, up to exact dependence", "[uncertainty]")
{
    for (const double r : {0.9, 1.0, -1.0}) {
        CAPTURE(r);
        GraphBuilder builder;
        const auto x1 = builder.input(quantity("x1", 0.0, 0.005)),
                   x2 = builder.input(quantity("x2", 0.0, 0.005));
        builder.group({InputGroup::Kind::stated,
                       "x1, x2",
                       {builder.input_of(x1), builder.input_of(x2)},
                       {25e-6, r * 25e-6, r * 25e-6, 25e-6},
                       infinite});
        const auto found = monte_carlo(builder, x1 + x2, settings_for(0.95));
        const double u = 0.005 * std::sqrt(2.0 + 2.0 * r);
        CHECK(std::abs(*found.standard_uncertainty - u) <= 0.01 * u);
        CHECK(std::abs(found.interval->upper - 1.959963984540054 * u) <=
              2.0 * found.numerical_tolerance + 1e-15);
    }
}

TEST_CASE("threads and vector widths do not change a bit", "[uncertainty]")
{
    Mixture model;
    const std::vector<MonteCarloTarget> targets{
        {model.first.node(), {}, false}, {model.second.node(), {}, false}, {model.third.node(), {}, false}};
    const std::vector<Requirement> requirements{{0, 1.9, 2.05, 0}, {1, 2.28, 2.4, 1}, {2, 0.8, 0.9, 1}};
    auto settings = settings_for(0.9545);
    settings.threads = 1;
    settings.kernels = &sse2_kernels();
    const auto expected = run_monte_carlo(model.builder.graph(), targets, requirements, settings);
    for (const auto* kernels : available_kernels())
        for (const std::size_t threads : {1U, 2U, 5U}) {
            CAPTURE(kernels->name, threads);
            settings.kernels = kernels;
            settings.threads = threads;
            const auto found = run_monte_carlo(model.builder.graph(), targets, requirements, settings);
            for (std::size_t index = 0; index < targets.size(); ++index)
                CHECK(same(found.results[index], expected.results[index]));
            CHECK(found.probabilities == expected.probabilities);
            CHECK(found.all.probability == expected.all.probability);
            CHECK(found.sets[1].probability == expected.sets[1].probability);
        }
}

TEST_CASE("an interval does not change when other results are added, nor with their order", "[uncertainty]")
{
    Mixture model;
    const std::vector<MonteCarloTarget> all{
        {model.third.node(), {}, false}, {model.first.node(), {}, false}, {model.second.node(), {}, false}};
    const auto settings = settings_for(0.9545);
    const auto together = run_monte_carlo(model.builder.graph(), all, {}, settings);
    for (std::size_t index = 0; index < all.size(); ++index)
        CHECK(same(run_monte_carlo(model.builder.graph(), {&all[index], 1}, {}, settings).results.front(),
                   together.results[index]));
}

TEST_CASE("another seed gives other trials", "[uncertainty]")
{
    Mixture model;
    auto settings = settings_for(0.9545);
    const auto one = monte_carlo(model.builder, model.third, settings);
    settings.seed = 2;
    CHECK(monte_carlo(model.builder, model.third, settings).mean != one.mean);
}

TEST_CASE("no result takes more trials than are permitted, and two blocks tell how good its ends are",
          "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 0.0, 0.97)) * 1.0;
    const std::vector<MonteCarloTarget> targets{{x.node(), {}, false}};
    auto settings = settings_for(0.9545);
    settings.largest_trials = 25'000;
    // Of a normal distribution, sqrt(p(1 - p)/n)/f at the end of the interval: p = 0.02275,
    // f = exp(-2^2/2)/sqrt(2 pi)/u.
    const double p = (1 - 0.9545) / 2, f = 0.0539910 / 0.97;
    double mean_square = 0, stated = 0;
    constexpr int runs = 60;
    for (int run = 0; run < runs; ++run) {
        settings.seed = 100 + static_cast<std::uint64_t>(run);
        const auto found = run_monte_carlo(builder.graph(), targets, {}, settings);
        const auto& result = found.results[0];
        REQUIRE(result.trials == 2 * found.trials_per_block);
        CHECK(!result.converged);
        stated += result.numerical_tolerance / 2 / runs;
        mean_square += std::pow(result.interval->upper - 2 * 0.97, 2) / runs;
    }
    const double theory = std::sqrt(p * (1 - p) / (2 * 10'240)) / f;
    CHECK(std::abs(stated / theory - 1) < 0.08);
    // 60 squares of a normal deviate: 99.9 % of their means lie within 0.48 and 1.72 of its variance.
    CHECK(mean_square > 0.48 * theory * theory);
    CHECK(mean_square < 1.72 * theory * theory);
}

TEST_CASE("results stop one by one when their digits are reached", "[uncertainty]")
{
    // u = 1.0 needs few trials for two digits (delta 0.05), u = 0.98 a hundred times as many (delta 0.005).
    GraphBuilder builder;
    const auto soon = builder.input(quantity("x", 0.0, 1.02)) * 1.0,
               late = builder.input(quantity("y", 0.0, 0.97)) * 1.0;
    const std::vector<MonteCarloTarget> targets{{soon.node(), {}, false}, {late.node(), {}, false}};
    const auto found = run_monte_carlo(builder.graph(), targets, {}, settings_for(0.9545));
    CHECK(found.results[0].asked_tolerance == 0.05);
    CHECK(found.results[1].asked_tolerance == 0.005);
    CHECK(found.results[0].trials == 5 * found.trials_per_block);
    CHECK(found.results[1].trials > 20 * found.results[0].trials / 5);
    for (const auto& result : found.results) {
        CHECK(result.converged);
        CHECK(result.numerical_tolerance <= result.asked_tolerance);
    }
}

TEST_CASE("trials end at the most that is allowed, and the tolerance reached is told", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 0.0, 0.97)) * 1.0;
    auto settings = settings_for(0.9545, 100'000);
    settings.significant_digits = 4;
    const auto found = monte_carlo(builder, x, settings);
    CHECK(found.trials <= 100'000);
    CHECK(found.trials > 90'000);
    CHECK_FALSE(found.converged);
    CHECK(found.numerical_tolerance > found.asked_tolerance);
}

TEST_CASE("a validated first order needs no further trials where it is reported", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 0.0, 0.97)) * 1.0;
    const auto first = propagate(builder.graph(), x.node(), 0.9545).combined;
    const std::vector<MonteCarloTarget> targets{{x.node(), first, true}, {x.node(), first, false}};
    const auto found = run_monte_carlo(builder.graph(), targets, {}, settings_for(0.9545));
    CHECK(found.results[0].validation->validated);
    CHECK(found.results[0].trials <= 250'000);
    CHECK(found.results[1].trials > 2 * found.results[0].trials);
}

TEST_CASE("trials in which the model is not defined count as beyond both ends", "[uncertainty]")
{
    // sqrt(x) with x = 0 +- 1: undefined in half of the trials, so that no 95 % interval exists; with 1 % of
    // them undefined the lower end moves.
    GraphBuilder builder;
    const auto never = square_root(builder.input(quantity("x", 0.0, 1.0)));
    const auto seldom = square_root(builder.input(rectangle("y", 0.98, 1.0)));
    const auto found = monte_carlo(builder, never, settings_for(0.95));
    CHECK_FALSE(found.interval);
    CHECK(found.undefined > found.trials / 3);
    const auto some = monte_carlo(builder, seldom, settings_for(0.95));
    CHECK_FALSE(some.standard_uncertainty);
    REQUIRE(some.interval);
    // The lowest 2.5 % hold 1 % undefined trials: y = -0.02 + 2 x 0.025.
    CHECK(std::abs(some.interval->lower - std::sqrt(0.03)) < 0.01);
    CHECK(std::abs(some.interval->upper - std::sqrt(1.98 - 0.05)) < 0.01);
}

TEST_CASE("an estimator is evaluated in each trial", "[uncertainty]")
{
    class Largest : public Estimator {
    public:
        std::string_view name() const override { return "largest"; }
        std::size_t output_count() const override { return 1; }
        std::string output_name(std::size_t) const override { return "value"; }
        void evaluate(std::span<const double> inputs, std::span<double> outputs) const override
        {
            if (inputs[0] < -4.0)
                throw std::domain_error("below -4");
            outputs[0] = std::max(inputs[0], inputs[1]);
        }
        void pull_back(std::span<const double>, std::span<const double> adjoints,
                       std::span<double> input_adjoints) const override
        {
            input_adjoints[0] += adjoints[0];
        }
    };
    GraphBuilder builder;
    const std::vector arguments{builder.input(quantity("x", 0.0, 1.0)),
                                builder.input(quantity("y", 0.0, 1.0))};
    const auto y = builder.estimate(std::make_shared<Largest>(), arguments).front() * 1.0;
    const auto found = monte_carlo(builder, y, settings_for(0.9545));
    CHECK(std::abs(found.mean - 0.5641895835) < 0.005);  // 1/sqrt(pi), expectation of the larger of two
    CHECK(found.undefined > 0);                          // about 3 in 100 000
    CHECK(found.undefined < found.trials / 5000);
}

TEST_CASE("a result without uncertain inputs has an interval of no length", "[uncertainty]")
{
    GraphBuilder builder;
    const auto found = monte_carlo(builder, builder.input(quantity("x", 3.0, 0.0)) * 2.0, settings_for(0.95));
    CHECK(found.interval->lower == 6.0);
    CHECK(found.interval->upper == 6.0);
    CHECK(*found.standard_uncertainty == 0.0);
    CHECK(found.converged);
}

TEST_CASE("ends outside the first grid are found on a wider one", "[uncertainty]")
{
    // A t of 0.5 degrees of freedom at 99.8 %: the ends are 10^5 times the scale away.
    GraphBuilder builder;
    const auto x = builder.input(student("x", 0.0, 1.0, 0.5)) * 1.0;
    auto settings = settings_for(0.998);
    settings.significant_digits = 1;
    const auto found = monte_carlo(builder, x, settings);
    REQUIRE(found.interval);
    const double exact = t_quantile(0.999, 0.5);
    CHECK(found.interval->upper > exact / 1.5);
    CHECK(found.interval->upper < exact * 1.5);
}

TEST_CASE("conformance with one limit, JCGM 106:2012, clause 7", "[uncertainty]")
{
    // Breakdown voltage -5.47 V, u = 0.05 V, upper limit -5.40 V: 0.92 (exactly 0.91924);
    // container strength 509.7 kPa, u = 8.6 kPa, lower limit 490 kPa: 0.99 (0.98901).
    GraphBuilder builder;
    const auto voltage = builder.input(quantity("V", -5.47, 0.05)) * 1.0;
    const auto strength = builder.input(quantity("p", 509.7, 8.6)) * 1.0;
    const std::vector<MonteCarloTarget> targets{{voltage.node(), {}, false}, {strength.node(), {}, false}};
    const std::vector<Requirement> requirements{{0, -infinite, -5.40, 0}, {1, 490.0, infinite, 1}};
    auto settings = settings_for(0.95);
    settings.significant_digits = 3;
    const auto found = run_monte_carlo(builder.graph(), targets, requirements, settings);
    CHECK(std::abs(found.probabilities[0] - 0.9192433407662289) < 0.001);
    CHECK(std::abs(found.probabilities[1] - 0.9890095473848222) < 0.0005);
    // Nothing is shared: the joint probability is the product.
    CHECK(std::abs(found.all.probability - 0.9192433407662289 * 0.9890095473848222) < 0.002);
    CHECK(found.all.trials == std::min(found.results[0].trials, found.results[1].trials));
}

TEST_CASE("requirements that share an input hold together more often than their product says",
          "[uncertainty]")
{
    GraphBuilder builder;
    const auto common = builder.input(quantity("C", 0.0, 1.0));
    const auto a = common + builder.input(quantity("a", 0.0, 0.01)),
               b = common + builder.input(quantity("b", 0.0, 0.01));
    const std::vector<MonteCarloTarget> targets{{a.node(), {}, false}, {b.node(), {}, false}};
    const std::vector<Requirement> requirements{{0, -infinite, 0.0, 0}, {1, -infinite, 0.0, 0}};
    const auto found = run_monte_carlo(builder.graph(), targets, requirements, settings_for(0.95));
    CHECK(std::abs(found.probabilities[0] - 0.5) < 0.01);
    // Correlation r = 1/1.0001: 1/4 + arcsin(r)/(2 pi) (orthant of a bivariate normal).
    CHECK(std::abs(found.all.probability - (0.25 + std::asin(1.0 / 1.0001) / 6.283185307179586)) < 0.005);
    CHECK(found.sets.front().probability == found.all.probability);
}

TEST_CASE("numerical tolerance is half a unit of the last meaningful digit, JCGM 101:2008, 7.9.2",
          "[uncertainty]")
{
    // Examples 1 and 2 of 7.9.2: u = 0.35 g with two digits: 0.005; u = 2 with one digit: 0.5.
    CHECK(numerical_tolerance(0.35, 2) == 0.005);
    CHECK(numerical_tolerance(2.0, 1) == 0.5);
    CHECK(numerical_tolerance(9.94, 2) == 0.05);
    CHECK(numerical_tolerance(9.96, 2) == 0.5);  // written 10
    CHECK(numerical_tolerance(0.0, 2) == 0.0);
}
