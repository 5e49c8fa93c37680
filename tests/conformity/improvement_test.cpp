#include "conformity/improvement.hpp"

#include "conformity/decision.hpp"
#include "uncertainty/expression.hpp"
#include "uncertainty/propagation.hpp"

#include <cmath>

#include "support/catch.hpp"

using namespace luxdossier;
using luxdossier::test::agree;
using uncertainty::InputQuantity;

namespace {

InputQuantity input(const char* symbol, double u)
{
    InputQuantity quantity;
    quantity.identity = quantity.symbol = symbol;
    quantity.unit = "1";
    quantity.standard_uncertainty = u;
    return quantity;
}

/// y = a + b around 0 with contributions 4 and 3, so that u = 5, and limits of +-tolerance with w = U = 2 u.
struct Bench {
    model::Evaluation evaluation;
    model::Verdict verdict;
    Bench(double tolerance, double coefficient)
    {
        uncertainty::GraphBuilder builder;
        const auto a = builder.input(input("a", 4)), b = builder.input(input("b", 3));
        if (coefficient != 0) {
            uncertainty::InputGroup group;
            group.kind = uncertainty::InputGroup::Kind::stated;
            group.identity = "together";
            group.members = {uncertainty::Input{0}, uncertainty::Input{1}};
            group.covariance = {16, 12 * coefficient, 12 * coefficient, 9};
            builder.group(group);
        }
        const auto sum = a + b;
        model::Result result;
        result.node = sum.node();
        result.value = 0.0;
        evaluation.graph = builder.graph();
        evaluation.coverage_probability = 0.9545;
        result.combined = propagate(evaluation.graph, sum.node(), 0.9545).combined;
        evaluation.results.push_back(result);
        conformity::Judged judged;
        judged.value = 0;
        judged.standard_uncertainty = result.combined->standard_uncertainty;
        judged.expanded_uncertainty = 2 * result.combined->standard_uncertainty;
        verdict = decide(judged, {-tolerance, tolerance}, {model::RuleKind::four_outcome, 1.0});
        verdict.result = 0;
    }
};

}  // namespace

TEST_CASE("an input has to shrink by what the other inputs leave of the tolerance", "[conformity]")
{
    // U may be 8.4, so u 4.2: 4.2^2 = (4 f)^2 + 9 and 4.2^2 = 16 + (3 f)^2.
    const Bench bench(8.4, 0);
    const auto found = conformity::improvement(bench.evaluation, bench.verdict).value();
    CHECK(agree(found.whole, 0.84, 1e-12));
    REQUIRE(found.inputs.size() == 2);
    CHECK(agree(found.inputs[0].factor.value(), std::sqrt(4.2 * 4.2 - 9) / 4, 1e-12));
    CHECK(agree(found.inputs[0].share, 0.64, 1e-12));
    CHECK(agree(found.inputs[1].factor.value(), std::sqrt(4.2 * 4.2 - 16) / 3, 1e-12));
}

TEST_CASE("an input whose rest is too much already cannot do it alone", "[conformity]")
{
    // u may be 3.5: without b, 4 remain.
    const Bench bench(7, 0);
    const auto found = conformity::improvement(bench.evaluation, bench.verdict).value();
    CHECK(agree(found.inputs[0].factor.value(), std::sqrt(3.5 * 3.5 - 9) / 4, 1e-9));
    CHECK_FALSE(found.inputs[1].factor);
}

TEST_CASE("a correlated input shrinks its covariance with it", "[conformity]")
{
    // Fully correlated u = 7 may be 5: 4 f + 3 = 5 gives f = 1/2, 4 + 3 f = 5 gives f = 1/3.
    const Bench bench(10, 1);
    const auto found = conformity::improvement(bench.evaluation, bench.verdict).value();
    CHECK(agree(found.inputs[0].factor.value(), 0.5, 1e-9));
    CHECK(agree(found.inputs[1].factor.value(), 1.0 / 3, 1e-9));
}

TEST_CASE("a result that passes, or lies outside its tolerance, is not told to improve", "[conformity]")
{
    const Bench passing(11, 0);
    CHECK(passing.verdict.outcome == model::Outcome::pass);
    CHECK_FALSE(conformity::improvement(passing.evaluation, passing.verdict));
    Bench outside(8, 0);
    outside.verdict.value = 9;
    outside.verdict.outcome = model::Outcome::conditional_fail;
    CHECK_FALSE(conformity::improvement(outside.evaluation, outside.verdict));
}
