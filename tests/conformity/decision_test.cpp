#include "conformity/conformity.hpp"
#include "conformity/decision.hpp"

#include <cmath>
#include <limits>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier;
using conformity::decide;
using conformity::Judged;
using conformity::Tolerance;
using model::Outcome;
using model::RuleKind;

namespace {

constexpr model::DecisionRule simple{RuleKind::simple_acceptance, 1};
constexpr model::DecisionRule guarded{RuleKind::guarded_acceptance, 1};
constexpr model::DecisionRule four{RuleKind::four_outcome, 1};

Judged normal(double value, double u)
{
    return {value, u, 2 * u, uncertainty::infinite, false};
}

}  // namespace

TEST_CASE("conformance probabilities agree with JCGM 106:2012, clause 7", "[conformity][published]")
{
    // Zener diode (upper limit) and container (lower limit); printed to
    // two decimals. The full figures were recomputed with another program's normal distribution.
    const auto zener = decide(normal(-5.47, 0.05), {{}, -5.4}, simple);
    CHECK(test::published("JCGM 106:2012, clause 7", "conformance probability of the Zener diode", "0.92",
                          *zener.conformance_probability) == "");
    CHECK(test::agree(*zener.conformance_probability, 0.9192433407662289, 1e-9));
    CHECK(zener.outcome == Outcome::pass);
    const auto container = decide(normal(509.7, 8.6), {490.0, {}}, simple);
    CHECK(test::published("JCGM 106:2012, clause 7", "conformance probability of the container", "0.99",
                          *container.conformance_probability) == "");
    CHECK(test::agree(*container.conformance_probability, 0.9890095473848222, 1e-9));
}

TEST_CASE("guarded acceptance with w = U agrees with JCGM 106:2012, 8.3", "[conformity][published]")
{
    // A_U = T_U - 2 u, A_L = T_L + 2 u.
    const auto zener = decide(normal(-5.47, 0.05), {{}, -5.4}, guarded);
    CHECK(test::agree(*zener.acceptance_upper, -5.5, 1e-12));
    CHECK(test::published("JCGM 106:2012, 8.3", "acceptance limit of the Zener diode / V", "-5.50",
                          *zener.acceptance_upper) == "");
    CHECK(zener.outcome == Outcome::fail);
    CHECK(zener.reason == "not shown to conform: inside the tolerance, but within the guard band");
    CHECK(test::agree(*zener.margin, -0.03, 1e-12));
    const auto container = decide(normal(509.7, 8.6), {490.0, {}}, guarded);
    CHECK(test::agree(*container.acceptance_lower, 507.2, 1e-12));
    CHECK(container.outcome == Outcome::pass);
    CHECK_FALSE(container.acceptance_upper);
    CHECK_FALSE(container.guard_upper);
    CHECK_FALSE(container.capability);
}

TEST_CASE("the specific risk of a rule agrees with ILAC-G8:09/2019, Table 1", "[conformity]")
{
    // The document prints upper bounds (50 %, 5 %, 2.5 %, 0.16 %, 1 ppm); the full
    // figures were recomputed with another program's normal distribution. U = 2 u, whence p = 0.9544997.
    const double p = std::erf(2 / std::sqrt(2.0));
    const auto risk = [p](double multiple) {
        return model::largest_specific_risk({RuleKind::guarded_acceptance, multiple}, p,
                                            uncertainty::infinite);
    };
    CHECK(model::largest_specific_risk(simple, p, uncertainty::infinite) == 0.5);
    CHECK(test::agree(risk(0.83), 0.04845722626672282, 1e-9));
    CHECK(test::agree(risk(1), 0.022750131948179195, 1e-9));
    CHECK(test::agree(risk(1.5), 0.0013498980316300933, 1e-9));
    CHECK(test::agree(risk(3), 9.865876450376946e-10, 1e-9));
}

TEST_CASE("four outcomes part the scale at acceptance, tolerance and tolerance plus guard band",
          "[conformity]")
{
    // ILAC-G8:09/2019, 4.2: T = -10 ... 10, U = 2.
    struct Row {
        double value;
        Outcome four_outcome, guarded, simple;
    };
    const auto row = GENERATE(values<Row>({{0, Outcome::pass, Outcome::pass, Outcome::pass},
                                           {8, Outcome::pass, Outcome::pass, Outcome::pass},
                                           {8.001, Outcome::conditional_pass, Outcome::fail, Outcome::pass},
                                           {10, Outcome::conditional_pass, Outcome::fail, Outcome::pass},
                                           {10.001, Outcome::conditional_fail, Outcome::fail, Outcome::fail},
                                           {12, Outcome::conditional_fail, Outcome::fail, Outcome::fail},
                                           {12.001, Outcome::fail, Outcome::fail, Outcome::fail}}));
    const double sign = GENERATE(1.0, -1.0);
    CAPTURE(row.value, sign);
    const Tolerance tolerance{-10.0, 10.0};
    CHECK(decide(normal(sign * row.value, 1), tolerance, four).outcome == row.four_outcome);
    CHECK(decide(normal(sign * row.value, 1), tolerance, guarded).outcome == row.guarded);
    CHECK(decide(normal(sign * row.value, 1), tolerance, simple).outcome == row.simple);
}

TEST_CASE("a value within 1e-9 of a limit is on it, and on a limit is inside", "[conformity]")
{
    const Tolerance tolerance{{}, 5.0};
    CHECK(decide(normal(5 * (1 + 0.9e-9), 0.1), tolerance, simple).outcome == Outcome::pass);
    CHECK(decide(normal(5 * (1 + 1.2e-9), 0.1), tolerance, simple).outcome == Outcome::fail);
    // An acceptance limit of 0 is the difference of two numbers: rounding there counts against the tolerance
    // limit.
    CHECK(decide(normal(1e-12, 0.05), {{}, 0.1}, guarded).outcome == Outcome::pass);
    // A tolerance limit of 0 holds exactly.
    CHECK(decide(normal(0, 0.05), {{}, 0.0}, simple).outcome == Outcome::pass);
    CHECK(decide(normal(1e-300, 0.05), {{}, 0.0}, simple).outcome == Outcome::fail);
}

TEST_CASE("guard bands that leave no acceptance interval decide only what lies far outside", "[conformity]")
{
    const auto rule = GENERATE(guarded, four);
    const Tolerance tolerance{-1.0, 1.0};
    const auto inside = decide(normal(0, 1), tolerance, rule);
    CHECK(inside.outcome == Outcome::not_decided);
    CHECK(inside.reason ==
          "the guard bands leave no acceptance interval: the uncertainty is too large for this tolerance");
    // They are given, lower above upper.
    CHECK(*inside.acceptance_lower == 1);
    CHECK(*inside.acceptance_upper == -1);
    CHECK(*inside.margin == -1);
    CHECK(decide(normal(3, 1), tolerance, rule).outcome == Outcome::not_decided);
    CHECK(decide(normal(3.001, 1), tolerance, rule).outcome == Outcome::fail);
    CHECK(decide(normal(-3.001, 1), tolerance, rule).outcome == Outcome::fail);
    // One point is an interval.
    CHECK(decide(normal(0, 0.5), tolerance, rule).outcome == Outcome::pass);
}

TEST_CASE("the guard band follows its multiple of U", "[conformity]")
{
    const auto verdict = decide(normal(7, 1), {-10.0, 10.0}, {RuleKind::guarded_acceptance, 1.5});
    CHECK(*verdict.guard_lower == 3);
    CHECK(*verdict.guard_upper == 3);
    CHECK(*verdict.acceptance_upper == 7);
    CHECK(*verdict.margin == 0);
    CHECK(*verdict.capability == 5);  // T/(4 u) = 20/4
    CHECK(verdict.outcome == Outcome::pass);
}

TEST_CASE("few degrees of freedom lower the conformance probability", "[conformity]")
{
    // Student's t with 1 degree of freedom is the Cauchy distribution: P(|t| <= 1) = 1/2.
    const Judged judged{0, 1.0, 10, 1, false};
    CHECK(test::agree(*decide(judged, {-1.0, 1.0}, simple).conformance_probability, 0.5, 1e-12));
    CHECK(test::agree(*decide(judged, {{}, 1.0}, simple).conformance_probability, 0.75, 1e-12));
}

TEST_CASE("a conformance probability far in a tail keeps its digits", "[conformity]")
{
    // Normal distribution, P(6 < z < 7) and its mirror image: 9.865876450e-10 - 1.279812544e-12.
    const double expected = 9.865876450376946e-10 - 1.279812543885835e-12;
    CHECK(test::agree(*decide(normal(-6, 1), {0.0, 1.0}, simple).conformance_probability, expected, 1e-9));
    CHECK(test::agree(*decide(normal(7, 1), {0.0, 1.0}, simple).conformance_probability, expected, 1e-9));
}

TEST_CASE("a value without uncertainty is decided only where none could change that", "[conformity]")
{
    const auto none = [](double value) {
        return Judged{value, std::nullopt, 0, uncertainty::infinite, false};
    };
    const Tolerance tolerance{{}, 1.0};
    CHECK(decide(none(0.5), tolerance, simple).outcome == Outcome::pass);
    CHECK(decide(none(1.5), tolerance, simple).outcome == Outcome::fail);
    CHECK(decide(none(0.5), tolerance, simple).reason ==
          "no uncertainty is given for this result: the value alone was compared");
    CHECK(decide(none(0.5), tolerance, {RuleKind::guarded_acceptance, 0}).outcome == Outcome::pass);
    const auto inside = decide(none(0.5), tolerance, guarded);
    CHECK(inside.outcome == Outcome::not_decided);
    CHECK(inside.reason ==
          "no uncertainty is given for this result, so that the guard band of the rule has no width");
    CHECK_FALSE(inside.margin);
    CHECK_FALSE(inside.conformance_probability);
    CHECK(decide(none(1.5), tolerance, guarded).outcome == Outcome::fail);
    CHECK(decide(none(0.5), tolerance, four).outcome == Outcome::not_decided);
    CHECK(decide(none(1.5), tolerance, four).outcome == Outcome::not_decided);
}

TEST_CASE("a standard uncertainty of zero is no missing one", "[conformity]")
{
    const auto verdict = decide(normal(1, 0), {0.0, 1.0}, guarded);
    CHECK(verdict.outcome == Outcome::pass);
    CHECK(*verdict.conformance_probability == 1);
    CHECK_FALSE(verdict.capability);
    CHECK(*decide(normal(1.1, 0), {0.0, 1.0}, guarded).conformance_probability == 0);
}

TEST_CASE("an upper bound passes an upper limit and decides nothing else", "[conformity]")
{
    const auto bound = [](double value) {
        return Judged{value, std::nullopt, 0, uncertainty::infinite, true};
    };
    CHECK(decide(bound(0.02), {{}, 0.03}, simple).outcome == Outcome::pass);
    const auto above = decide(bound(0.04), {{}, 0.03}, simple);
    CHECK(above.outcome == Outcome::not_decided);
    CHECK(above.reason == "the value is an upper bound, and smaller values would be judged otherwise");
    CHECK(decide(bound(0.04), {0.03, {}}, simple).outcome == Outcome::not_decided);
    CHECK(decide(bound(0.02), {0.03, {}}, simple).outcome == Outcome::fail);
}

TEST_CASE("a value that rounds to its limit is explained", "[conformity]")
{
    // U = 0.20: reported to 0.01.
    const auto beyond = decide(normal(5.004, 0.1), {{}, 5.0}, simple);
    CHECK(beyond.outcome == Outcome::fail);
    CHECK(beyond.reason ==
          "rounded as reported, the value equals the upper tolerance limit; unrounded it lies above it");
    CHECK(decide(normal(4.996, 0.1), {{}, 5.0}, simple).reason ==
          "rounded as reported, the value equals the upper tolerance limit; unrounded it lies below it");
    CHECK(decide(normal(5.006, 0.1), {{}, 5.0}, simple).reason.empty());
    CHECK(decide(normal(5, 0.1), {{}, 5.0}, simple).reason.empty());
    CHECK(decide(normal(4.804, 0.1), {{}, 5.0}, four).reason ==
          "rounded as reported, the value equals the upper acceptance limit; unrounded it lies above it");
    // U = 260 is reported to tens: 1234 is 1230.
    CHECK(decide(normal(1234, 130), {{}, 1231.0}, simple).reason ==
          "rounded as reported, the value equals the upper tolerance limit; unrounded it lies above it");
    // -0.0004 rounds to 0.00, not to -0.00.
    CHECK(decide(normal(-0.0004, 0.1), {{}, 0.0}, simple).reason ==
          "rounded as reported, the value equals the upper tolerance limit; unrounded it lies below it");
}
