#include "intake/formula_parser.hpp"

#include "uncertainty/derivative.hpp"

#include <map>
#include <string>
#include <vector>

#include "support/catch.hpp"

using namespace luxdossier;
using uncertainty::Operation;

namespace {

const std::vector<std::string> symbols{"x", "y", "x1", "θ"};

double value_of(const std::string& text, const std::map<std::string, double>& values)
{
    const auto parsed = intake::parse_formula(text, symbols);
    REQUIRE(parsed.faults.empty());
    std::vector<double> stack;
    for (const auto& step : parsed.steps) {
        if (step.operation == Operation::input) {
            stack.push_back(values.at(step.symbol));
        } else if (step.operation == Operation::constant) {
            stack.push_back(step.number);
        } else {
            const double right = stack.back();
            if (uncertainty::operand_count(step.operation) > 1)
                stack.pop_back();
            stack.back() = uncertainty::operation_value(step.operation, stack.back(), right);
        }
    }
    REQUIRE(stack.size() == 1);
    return stack.back();
}

std::string first_fault(const std::string& text)
{
    const auto parsed = intake::parse_formula(text, symbols);
    REQUIRE_FALSE(parsed.faults.empty());
    const auto& fault = parsed.faults.front();
    return std::to_string(fault.offset) + ": " + fault.found + ", expected " + fault.expected;
}

}  // namespace

TEST_CASE("equations are read as arithmetic is written", "[intake]")
{
    const std::map<std::string, double> at{{"x", 3.0}, {"y", 2.0}, {"x1", 5.0}, {"θ", 0.5}};
    CHECK(value_of("x - y - 1", at) == 0.0);
    CHECK(value_of("x / y / 2", at) == 0.75);
    CHECK(value_of("2 ^ x ^ y", at) == 512.0);  // 2^(3^2)
    CHECK(value_of("-x^2", at) == -9.0);
    CHECK(value_of("2^-y", at) == 0.25);
    CHECK(value_of("-(x + y) * x1", at) == -25.0);
    CHECK(value_of("1.5e1+.5", at) == 15.5);
    CHECK(value_of("max(x, y) + min(x, y) * 10", at) == 23.0);
    CHECK(value_of("sqrt(x^2 + 4 * x1 - 4)", at) == 5.0);
    CHECK(std::abs(value_of("log10(1000) + ln(exp(θ)) + sin(pi / 2)", at) - 4.5) < 1e-14);
}

TEST_CASE("a fault of an equation is told where it stands", "[intake]")
{
    CHECK(first_fault("x + ") ==
          "4: found the end of the equation, expected a number, a symbol, a function or \"(\"");
    CHECK(first_fault("2 x") == "2: found \"x\", expected an operator or the end of the equation");
    CHECK(first_fault("(x + y") == "6: found the end of the equation, expected \")\"");
    CHECK(first_fault("x * z9") == "4: found unknown symbol \"z9\", expected one of x, y, x1, θ");
    CHECK(first_fault("sqrt x") == "0: found function \"sqrt\" without its argument, expected \"sqrt(...)\"");
    CHECK(first_fault("min(x)") == "0: found 1 argument of min, expected 2");
    CHECK(first_fault("log(x)") == "0: found function \"log\", expected \"ln\" or \"log10\"");
    CHECK(first_fault("x + 1e999") == "4: found \"1e999\", expected a number of at most 1.8e308");
    CHECK(first_fault(std::string(5000, '(')).find("nested more than 200 deep") != std::string::npos);
    CHECK(intake::parse_formula("a1 + a2 + x", symbols).faults.size() == 2);
}

TEST_CASE("a symbol is a word that equations do not know already", "[intake]")
{
    for (const char* good : {"x", "x_1", "alpha", "θ"})
        CHECK(intake::is_symbol(good));
    for (const char* bad : {"", "1x", "x-y", "pi", "sin", "log", "x y"})
        CHECK_FALSE(intake::is_symbol(bad));
}
