#include "uncertainty/expression.hpp"

#include "quantities.hpp"

#include <functional>
#include <stdexcept>
#include <thread>
#include <vector>

#include "support/catch.hpp"

using namespace luxdossier::uncertainty;
using luxdossier::test::agree;
using luxdossier::test::quantity;

namespace {

using Model = std::function<Expression(const Expression&, const Expression&)>;

/// Central difference of a model with respect to its first (0) or second (1) input.
double central_difference(const Graph& graph, Node node, std::vector<double> at, std::size_t input)
{
    const double step = 1e-5 * std::max(std::abs(at[input]), 0.1);
    const double centre = at[input];
    at[input] = centre + step;
    const double above = graph.evaluate(at)[node.index];
    at[input] = centre - step;
    const double below = graph.evaluate(at)[node.index];
    return (above - below) / (2.0 * step);
}

/// Two inputs, three outputs: x y, x + sin y, y^2. Counts how often it is pulled back.
class Trio : public Estimator {
public:
    std::string_view name() const override { return "trio"; }
    std::size_t output_count() const override { return 3; }
    void evaluate(std::span<const double> in, std::span<double> out) const override
    {
        out[0] = in[0] * in[1];
        out[1] = in[0] + std::sin(in[1]);
        out[2] = in[1] * in[1];
    }
    void pull_back(std::span<const double> in, std::span<const double> out,
                   std::span<double> adjoint) const override
    {
        ++pulled_back;
        adjoint[0] += out[0] * in[1] + out[1];
        adjoint[1] += out[0] * in[0] + out[1] * std::cos(in[1]) + out[2] * 2.0 * in[1];
    }
    std::string output_name(std::size_t output) const override { return std::string(1, "abc"[output]); }
    mutable int pulled_back = 0;
};

}  // namespace

TEST_CASE("every operation has the derivatives that central differences show", "[uncertainty]")
{
    struct Case {
        std::string name;
        Model model;
        double x, y;
    };
    const auto one = [](Expression (*function)(const Expression&)) {
        return [function](const Expression& x, const Expression& y) { return function(x) * 1.5 + y; };
    };
    const std::vector<Case> cases{
        {"add", [](auto& x, auto& y) { return x + y + 2.0; }, 1.3, -0.4},
        {"subtract", [](auto& x, auto& y) { return 3.0 - (x - y) - 1.0; }, 1.3, -0.4},
        {"multiply", [](auto& x, auto& y) { return 2.0 * (x * y) * 0.5; }, 1.3, -0.4},
        {"divide", [](auto& x, auto& y) { return x / y / 3.0 + 2.0 / x; }, 1.3, -0.4},
        {"negate", [](auto& x, auto& y) { return -x * y; }, 1.3, -0.4},
        {"power of two inputs", [](auto& x, auto& y) { return power(x, y); }, 1.3, -0.4},
        {"power of a negative base", [](auto& x, auto& y) { return power(y, 3.0) * x; }, 1.3, -0.4},
        {"power with exponent 0", [](auto& x, auto& y) { return power(x, 0.0) * y; }, 0.0, -0.4},
        {"square at 0", [](auto& x, auto& y) { return power(x, 2.0) + y; }, 0.0, -0.4},
        {"square root", one(square_root), 1.3, -0.4},
        {"exponential", one(exponential), 1.3, -0.4},
        {"natural logarithm", one(natural_logarithm), 1.3, -0.4},
        {"sine", one(sine), 1.3, -0.4},
        {"cosine", one(cosine), 1.3, -0.4},
        {"tangent", one(tangent), 1.1, -0.4},
        {"arcsine", one(arcsine), 0.6, -0.4},
        {"arccosine", one(arccosine), 0.6, -0.4},
        {"arctangent", one(arctangent), 1.3, -0.4},
        {"absolute value above 0", one(absolute_value), 1.3, -0.4},
        {"absolute value below 0", one(absolute_value), -1.3, -0.4},
        {"minimum", [](auto& x, auto& y) { return minimum(x, y) * x; }, 1.3, -0.4},
        {"maximum", [](auto& x, auto& y) { return maximum(x, y) * y; }, 1.3, -0.4},
    };
    for (const auto& test : cases) {
        CAPTURE(test.name);
        GraphBuilder builder;
        const auto x = builder.input(quantity("x", test.x, 0.1));
        const auto y = builder.input(quantity("y", test.y, 0.1));
        const auto result = test.model(x, y);
        const auto found = builder.graph().sensitivities(result.node());
        REQUIRE(found.size() == 2);
        for (std::size_t input = 0; input < 2; ++input) {
            CAPTURE(input);
            const double expected =
                central_difference(builder.graph(), result.node(), {test.x, test.y}, input);
            CHECK(agree(found[input].coefficient, expected, 1e-8, 1e-9));
        }
        CHECK(builder.graph().evaluate(std::vector{test.x, test.y})[result.node().index] == result.value());
    }
}

TEST_CASE("where a derivative does not exist the documented side is taken", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 0.0, 0.1));
    const auto y = builder.input(quantity("y", 0.0, 0.1));
    CHECK(builder.graph().sensitivities(absolute_value(x).node()).at(0).coefficient == 0.0);
    for (const auto& tie : {minimum(x, y), maximum(x, y)}) {
        const auto found = builder.graph().sensitivities(tie.node());
        CHECK(found.at(0).coefficient == 1.0);
        CHECK(found.at(1).coefficient == 0.0);
    }
}

TEST_CASE("an input that several paths reach is summed, and x - x has no sensitivity left", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 3.0, 0.1));
    const auto unused = builder.input(quantity("unused", 3.0, 0.1));
    CHECK(builder.graph().sensitivities((x * x + x).node()).at(0).coefficient == 7.0);
    const auto nothing = builder.graph().sensitivities((x - x).node());
    REQUIRE(nothing.size() == 1);  // still upstream
    CHECK(nothing[0].coefficient == 0.0);
    CHECK(builder.graph().upstream((x * x).node()).size() == 2);
    CHECK(unused.value() == 3.0);
}

TEST_CASE("an estimator is pulled back once for all its outputs", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 1.3, 0.1));
    const auto y = builder.input(quantity("y", -0.4, 0.1));
    const auto trio = std::make_shared<Trio>();
    const std::vector arguments{x * 2.0, y};
    const auto outputs = builder.estimate(trio, arguments);
    const auto result = outputs[0] * outputs[2] + exponential(outputs[1]) * x;
    const auto found = builder.graph().sensitivities(result.node());
    CHECK(trio->pulled_back == 1);
    for (std::size_t input = 0; input < 2; ++input)
        CHECK(agree(found.at(input).coefficient,
                    central_difference(builder.graph(), result.node(), {1.3, -0.4}, input), 1e-8));
    const auto one_output = builder.graph().sensitivities(outputs[1].node());
    CHECK(agree(one_output.at(0).coefficient, 2.0, 1e-15));
    CHECK(agree(one_output.at(1).coefficient, std::cos(-0.4), 1e-15));
    CHECK(trio->cell_plan(2).stored);
}

TEST_CASE("trials are gathered in order, whatever their number", "[uncertainty]")
{
    for (const std::size_t trials : {0U, 1U, 7U, 8U, 9U, 256U}) {
        CAPTURE(trials);
        std::vector<double> x(trials), y(trials);
        for (std::size_t trial = 0; trial < trials; ++trial) {
            x[trial] = static_cast<double>(trial);
            y[trial] = -2.0 * static_cast<double>(trial);
        }
        const std::vector<const double*> inputs{x.data(), y.data()};
        std::size_t next = 0;
        each_trial(inputs, trials, [&](std::size_t trial, std::span<const double> arguments) {
            CHECK(trial == next++);
            CHECK(arguments.size() == 2);
            CHECK(arguments[0] == x[trial]);
            CHECK(arguments[1] == y[trial]);
        });
        CHECK(next == trials);
    }
}

TEST_CASE("an infinite derivative behind a factor of zero does not become NaN", "[uncertainty]")
{
    GraphBuilder builder;
    const auto x = builder.input(quantity("x", 0.0, 0.1));
    const auto found = builder.graph().sensitivities((square_root(x) * 0.0).node());
    CHECK(found.at(0).coefficient == 0.0);
}

TEST_CASE("the same identity is the same node, and another statement is refused", "[uncertainty]")
{
    GraphBuilder builder;
    const auto first = builder.input(quantity("meter:M1/ageing", 1.0, 0.001));
    CHECK(builder.input(quantity("meter:M1/ageing", 1.0, 0.001)).node() == first.node());
    CHECK(builder.graph().inputs().size() == 1);
    CHECK_THROWS_WITH(builder.input(quantity("meter:M1/ageing", 1.0, 0.002)),
                      "found input meter:M1/ageing with two statements, expected one");
    CHECK(builder.graph().find_input("meter:M1/ageing").has_value());
    CHECK_FALSE(builder.graph().find_input("meter:M2/ageing").has_value());
    CHECK(builder.graph().node_of(builder.input_of(first)) == first.node());
    CHECK_THROWS_WITH(static_cast<void>(builder.input_of(first + 1.0)),
                      "found an expression that is computed, expected an input quantity");
}

TEST_CASE("equal constants share a node but not a name", "[uncertainty]")
{
    GraphBuilder builder;
    const auto one = builder.constant(1.0);
    CHECK(builder.constant(1.0).node() == one.node());
    const auto position_factor = builder.constant(1.0).named("K");
    CHECK(position_factor.node() != one.node());
    CHECK(builder.graph().name(position_factor.node()) == "K");
    CHECK(builder.graph().name(one.node()).empty());
}

TEST_CASE("statements that are no quantity are refused, each with what was found", "[uncertainty]")
{
    GraphBuilder builder;
    const double unknown = std::nan("");
    CHECK_THROWS_WITH(builder.input(quantity("", 1, 1)), "found an input quantity \"\" without an identity");
    CHECK_THROWS_WITH(builder.input(quantity("x", unknown, 1)),
                      "found estimate nan of input x, expected a finite value");
    CHECK_THROWS_WITH(builder.input(quantity("x", 1, -1)),
                      "found standard uncertainty -1 of input x, expected 0 or more");
    CHECK_THROWS_WITH(builder.input(quantity("x", 1, infinite)),
                      "found standard uncertainty inf of input x, expected 0 or more");
    CHECK_THROWS_WITH(builder.input(quantity("x", 1, 1, 0)),
                      "found 0 degrees of freedom of input x, expected more than 0");
    CHECK_THROWS_WITH(builder.constant(infinite), "found constant inf, expected a finite value");
    const auto negative = builder.input(quantity("base", -2, 0.1));
    const auto exponent = builder.input(quantity("exponent", 2, 0.1));
    CHECK_THROWS_WITH(power(negative, exponent),
                      "found base -2 with an uncertain exponent, expected a base above 0");
    CHECK(power(negative, builder.constant(1.0) + 1.0).value() == 4.0);
    GraphBuilder other;
    CHECK_THROWS_AS(negative + other.constant(1.0), std::domain_error);
}

TEST_CASE("a group must be a covariance of its members", "[uncertainty]")
{
    GraphBuilder builder;
    std::vector<Input> members;
    for (const char* name : {"a", "b", "c"})
        members.push_back(builder.input_of(builder.input(quantity(name, 1, 2))));
    const auto group = [&](std::vector<Input> inputs, std::vector<double> covariance, double nu = 4) {
        builder.group({InputGroup::Kind::stated, "G", std::move(inputs), std::move(covariance), nu});
    };
    CHECK_THROWS_WITH(group({members[0], members[1]}, {4, 0, 0}),
                      "found 3 covariances in group G of 2 inputs, expected 4");
    CHECK_THROWS_WITH(group({members[0]}, {4.1}), "found variance 4.1 of a in group G, expected its u^2 = 4");
    CHECK_THROWS_WITH(
        group({members[0], members[1]}, {4, 1, 2, 4}),
        "found covariances 1 and 2 of a and b in group G, expected one value, 0 where an uncertainty is 0");
    CHECK_THROWS_WITH(
        group({members[0], members[1]}, {4, 5, 5, 4}),
        "found correlation 1.25 between a and b in group G, which contradicts the other correlations, "
        "expected a positive semi-definite matrix");
    // Each pair alone is possible; the three together are not.
    CHECK_THROWS_WITH(
        group(members, {4, 3.6, 3.6, 3.6, 4, -3.2, 3.6, -3.2, 4}),
        "found correlation 0.9 between a and c in group G, which contradicts the other correlations, "
        "expected a positive semi-definite matrix");
    CHECK_THROWS_WITH(group({members[0], members[0]}, {4, 4, 4, 4}),
                      "found input a in group G and again in group G, expected one group");
}

TEST_CASE("a group of full correlation, a singular matrix, is a covariance", "[uncertainty]")
{
    GraphBuilder builder;
    const auto a = builder.input_of(builder.input(quantity("a", 1, 2)));
    const auto b = builder.input_of(builder.input(quantity("b", 1, 3)));
    const auto c = builder.input_of(builder.input(quantity("c", 1, 0)));
    builder.group({InputGroup::Kind::observed_together, "G", {a, b, c}, {4, 6, 0, 6, 9, 0, 0, 0, 0}, 4});
    CHECK(builder.graph().group_of(a) == std::size_t{0});
    CHECK_THROWS_AS(builder.group({InputGroup::Kind::pooled, "H", {a}, {4}, 4}), std::domain_error);
}

TEST_CASE("sweeps on several threads give what one thread gives", "[uncertainty]")
{
    GraphBuilder builder;
    std::vector<Expression> results;
    auto chain = builder.input(quantity("x0", 1.0, 0.1));
    for (int index = 1; index < 200; ++index) {
        chain = chain * 0.9 + builder.input(quantity("x" + std::to_string(index), 1.0, 0.1));
        results.push_back(chain);
    }
    const auto& graph = builder.graph();
    std::vector<std::vector<Sensitivity>> parallel(results.size());
    std::vector<std::thread> threads;
    for (std::size_t part = 0; part < 4; ++part)
        threads.emplace_back([&, part] {
            for (std::size_t index = part; index < results.size(); index += 4)
                parallel[index] = graph.sensitivities(results[index].node());
        });
    for (auto& thread : threads)
        thread.join();
    for (std::size_t index = 0; index < results.size(); ++index) {
        const auto alone = graph.sensitivities(results[index].node());
        REQUIRE(parallel[index].size() == alone.size());
        REQUIRE(alone.size() == index + 2);
        for (std::size_t line = 0; line < alone.size(); ++line)
            CHECK(parallel[index][line].coefficient == alone[line].coefficient);
    }
}
