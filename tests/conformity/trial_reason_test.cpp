#include "conformity/trial_reason.hpp"

#include "uncertainty/expression.hpp"
#include "uncertainty/propagation.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using uncertainty::Distribution;

namespace {

uncertainty::InputQuantity input(const char* symbol, double u, Distribution distribution, double nu)
{
    uncertainty::InputQuantity quantity;
    quantity.identity = quantity.symbol = symbol;
    quantity.unit = "1";
    quantity.standard_uncertainty = u;
    quantity.distribution = distribution;
    quantity.degrees_of_freedom = nu;
    return quantity;
}

/// y = a + b, and the interval that trials gave, as a multiple of the one of the first order.
struct Sum {
    model::Evaluation evaluation;
    model::Result result;
    Sum(const uncertainty::InputQuantity& a, const uncertainty::InputQuantity& b, double length)
    {
        uncertainty::GraphBuilder builder;
        const auto sum = builder.input(a) + builder.input(b);
        evaluation.graph = builder.graph();
        result.node = sum.node();
        result.value = 0.0;
        result.combined = propagate(evaluation.graph, sum.node(), 0.9545).combined;
        const double half = length * result.combined->expanded_uncertainty;
        uncertainty::MonteCarloResult trials;
        trials.trials = 51200;
        trials.interval = uncertainty::Ends{-half, half};
        trials.validation = uncertainty::Validation{false, 0.05, 0.1, 0.125, 0.001, true};
        result.monte_carlo = trials;
        result.is_judged_by_trials = true;
    }
};

}  // namespace

TEST_CASE("a verdict by trials names the mean of few degrees of freedom that makes it longer", "[conformity]")
{
    const double nu = GENERATE(1.0, 1.04);  // printed alike
    CAPTURE(nu);
    const Sum sum(input("C", 1.0, Distribution::normal, uncertainty::infinite),
                  input("R", 0.1, Distribution::student_t, nu), 1.25);
    CHECK(conformity::trial_reason(sum.evaluation, sum.result) ==
          "judged by the interval of the trials: the first order is not validated, its ends differ by up to "
          "2.5 times what one digit of u permits; the interval is 25 % longer, as R of 1 effective degree of "
          "freedom has long tails");
}

TEST_CASE("a verdict by trials says where bounded inputs make it shorter", "[conformity]")
{
    const Sum sum(input("C", 1.0, Distribution::normal, uncertainty::infinite),
                  input("F", 2.0, Distribution::rectangular, uncertainty::infinite), 0.9);
    CHECK(conformity::trial_reason(sum.evaluation, sum.result)
              .ends_with("; the interval is 10 % shorter, as inputs with bounds make 80 % of the variance"));
}

TEST_CASE("a verdict by trials names no cause that the budget does not show", "[conformity]")
{
    const Sum sum(input("C", 1.0, Distribution::normal, uncertainty::infinite),
                  input("R", 0.05, Distribution::student_t, 1), 1.25);
    CHECK(conformity::trial_reason(sum.evaluation, sum.result).ends_with("; the interval is 25 % longer"));
    auto first_order = sum.result;
    first_order.is_judged_by_trials = false;
    CHECK(conformity::trial_reason(sum.evaluation, first_order).empty());
}
