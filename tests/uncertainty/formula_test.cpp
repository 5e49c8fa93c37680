#include "uncertainty/formula.hpp"

#include "quantities.hpp"
#include "uncertainty/expression.hpp"

#include <stdexcept>

#include "support/catch.hpp"

using namespace luxdossier::uncertainty;
using luxdossier::test::quantity;

namespace {

class Fit : public Estimator {
public:
    std::string_view name() const override { return "weighted line"; }
    std::size_t output_count() const override { return 2; }
    void evaluate(std::span<const double> in, std::span<double> out) const override
    {
        out[0] = out[1] = in[0];
    }
    void pull_back(std::span<const double>, std::span<const double>, std::span<double>) const override {}
    std::string output_name(std::size_t output) const override { return output == 0 ? "offset" : "gain"; }
};

}  // namespace

TEST_CASE("a formula is printed with the parentheses that it needs and no others", "[uncertainty]")
{
    GraphBuilder builder;
    const auto a = builder.input(quantity("a", 1.5, 0.1));
    const auto b = builder.input(quantity("b", 2.5, 0.1));
    const auto c = builder.input(quantity("c", 3.5, 0.1));
    const auto text = [&](const Expression& result) {
        return printed_formula(builder.graph(), result.node());
    };
    CHECK(text(a + b - c) == "a + b - c");
    CHECK(text(a - (b - c)) == "a - (b - c)");
    CHECK(text((a + b) * c) == "(a + b) c");
    CHECK(text(a * b / c) == "a b/c");
    CHECK(text(a / (b * c)) == "a/(b c)");
    CHECK(text(a / b / c) == "a/b/c");
    CHECK(text((a / b - 1.0) * 100.0) == "(a/b - 1) x 100");
    CHECK(text(-power(a, 2.0)) == "-a^2");
    CHECK(text(power(-a, 2.0)) == "(-a)^2");
    CHECK(text(power(power(a, b), c)) == "(a^b)^c");
    CHECK(text(power(a, power(b, c))) == "a^(b^c)");
    CHECK(text(a - -b) == "a - (-b)");
    CHECK(text(a * -2.0) == "a (-2)");
    CHECK(text(-(a + b)) == "-(a + b)");
    CHECK(text(square_root(a) + maximum(b, c + 1.0)) == "sqrt(a) + max(b, c + 1)");
    CHECK(text(exponential(natural_logarithm(a))) == "exp(ln(a))");
}

TEST_CASE("named nodes are printed by name and explained once, as deep as asked", "[uncertainty]")
{
    GraphBuilder builder;
    const auto r = builder.input(quantity("R", 100, 1));
    const auto r0 = builder.input(quantity("R_0", 1, 0.1));
    const auto c0 = builder.input(quantity("c_0", 1, 0.1));
    const auto z = builder.input(quantity("z", 0, 1));
    const auto certificate = (c0 + z).named("C");
    const auto signal = (r - r0).named("N");
    const auto e = (signal * certificate + signal).named("E");
    const auto result = (e * 2.0).named("y");
    const auto& graph = builder.graph();
    CHECK(printed_formula(graph, result.node(), 0) == "y = E x 2");
    CHECK(printed_formula(graph, result.node(), 1) == "y = E x 2; E = N C + N");
    CHECK(printed_formula(graph, result.node(), 9) == "y = E x 2; E = N C + N; N = R - R_0; C = c_0 + z");
    CHECK(printed_formula(graph, r.node()) == "R");
}

TEST_CASE("quantities of one name are numbered as they stand, and the first is explained", "[uncertainty]")
{
    GraphBuilder builder;
    const auto input = [&](const char* symbol, double at) {
        auto stated = quantity(symbol, at, 0.1);
        stated.identity += std::to_string(at);
        return builder.input(stated);
    };
    const auto level = [&](double at) {
        return std::pair(input("D", at), (input("R", at) - input("R_0", at / 100)).named("E"));
    };
    const auto [first, at_first] = level(1);
    const auto [last, at_last] = level(100);
    const auto gain = ((last - first) / (at_last - at_first)).named("b");
    const auto& graph = builder.graph();
    CHECK(printed_formula(graph, gain.node(), 0) == "b = (D_1 - D_2)/(E_1 - E_2)");
    CHECK(printed_formula(graph, gain.node()) == "b = (D_1 - D_2)/(E_1 - E_2); E_1 = R - R_0");
    const auto symbols = symbols_apart(graph, gain.node());
    REQUIRE(symbols.size() == 2);
    CHECK(symbols.at(Input{graph.operations()[last.node().index].left}) == "D_1");

    // a second subscript stands behind the first
    const auto zeros = input("R_0", 2) - input("R_0", 3);
    CHECK(printed_formula(builder.graph(), zeros.node()) == "R_0,1 - R_0,2");
}

TEST_CASE("an estimator is printed by its name, arguments and output", "[uncertainty]")
{
    GraphBuilder builder;
    std::vector<Expression> arguments;
    for (const char* symbol : {"E_1", "E_2", "D_1", "D_2", "D_3"})
        arguments.push_back(builder.input(quantity(symbol, 1, 0.1)));
    const auto fit = std::make_shared<Fit>();
    const auto whole = builder.estimate(fit, std::span(arguments).first(2));
    const auto shortened = builder.estimate(fit, arguments);
    CHECK(printed_formula(builder.graph(), (whole[1] * 2.0).node()) == "weighted line(E_1, E_2).gain x 2");
    CHECK(printed_formula(builder.graph(), shortened[0].node()) == "weighted line(E_1, E_2 ...).offset");
}

TEST_CASE("a formula that would grow without end is cut", "[uncertainty]")
{
    GraphBuilder builder;
    auto x = builder.input(quantity("x", 1.0, 0.1));
    for (int doubling = 0; doubling < 60; ++doubling)
        x = x * x;
    CHECK(printed_formula(builder.graph(), x.node()).size() < 20000);
}

TEST_CASE("spreadsheet formulas put everything but plain references into parentheses", "[uncertainty]")
{
    GraphBuilder builder;
    const auto a = builder.input(quantity("a", 1.5, 0.1));
    const auto b = builder.input(quantity("b", 2.5, 0.1));
    const auto minus_two = builder.constant(-2.0);
    const auto cell_of = [&](Node node) -> std::string {
        if (node == a.node())
            return "Model!$C$1";
        if (node == b.node())
            return "'Raw readings'!$C$2";
        return builder.graph().operations()[node.index].operation == Operation::constant
                   ? exact_text(builder.graph().value(node))
                   : "$A$1+$B$1";
    };
    const auto text = [&](const Expression& result) {
        return spreadsheet_formula(builder.graph(), result.node(), cell_of);
    };
    CHECK(text(a + b) == "Model!$C$1+'Raw readings'!$C$2");
    CHECK(text(a * minus_two) == "Model!$C$1*(-2)");
    CHECK(text(power(minus_two, 2.0)) ==
          "(-2)^2");  // unlike -2^2, which a spreadsheet takes as (-2)^2 anyway
    CHECK(text(-power(a, 2.0)) == "-($A$1+$B$1)");
    CHECK(text(a / (a + b)) == "Model!$C$1/($A$1+$B$1)");
    CHECK(text(natural_logarithm(a)) == "LN(Model!$C$1)");
    CHECK(text(square_root(a + b)) == "SQRT($A$1+$B$1)");
    CHECK(text(minimum(a, b)) == "MIN(Model!$C$1,'Raw readings'!$C$2)");
    CHECK(text(arccosine(a)) == "ACOS(Model!$C$1)");
    CHECK(text(minus_two) == "-2");
    CHECK(text(a).empty());
}

TEST_CASE("numbers are written so that they read back exactly", "[uncertainty]")
{
    CHECK(exact_text(0.1) == "0.1");
    CHECK(exact_text(100.0) == "100");
    CHECK(exact_text(1e-5) == "1e-05");
    CHECK(std::stod(exact_text(1.0 / 3.0)) == 1.0 / 3.0);
    CHECK_THROWS_WITH(exact_text(std::nan("")), "found nan, expected a finite number to write");
}
