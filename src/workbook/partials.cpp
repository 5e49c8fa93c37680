#include "workbook/partials.hpp"

#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {

using uncertainty::Node;
using uncertainty::Operation;

namespace {

Term quotient(const Term& a, const Term& b)
{
    // b is one factor: a cell, a number or a function.
    const bool negative = b.text.front() == '-';
    const Term divisor = negative ? negated(b) : b;
    const Term result{a.text + "/" + divisor.text, a.value / divisor.value};
    return negative ? negated(result) : result;
}

Term of_power(const Term& base, const Term& exponent)
{
    const Term rest{fmt::format("POWER({},{}-1)", base.text, exponent.text),
                    std::pow(base.value, exponent.value - 1)};
    return product(exponent, rest);
}

}  // namespace

Partials partials(const uncertainty::Graph& graph, const CellMap& map, Node node)
{
    const Term one{"1", 1}, minus_one{"-1", -1};
    const auto& operand = graph.operations()[node.index];
    const auto value = [&](std::uint32_t index) { return map.value(Node{index}); };
    const auto function = [](const char* pattern, const Term& a, double result) {
        return Term{fmt::format(fmt::runtime(pattern), a.text), result};
    };
    const Term self = map.value(node);
    switch (operand.operation) {
    case Operation::add:
        return {one, one};
    case Operation::subtract:
        return {one, minus_one};
    case Operation::multiply:
        return {value(operand.right), value(operand.left)};
    case Operation::divide:
        return {quotient(one, value(operand.right)), negated(quotient(self, value(operand.right)))};
    case Operation::negate:
        return {minus_one, {}};
    case Operation::power: {
        const auto base = value(operand.left), exponent = value(operand.right);
        if (graph.operations()[operand.right].operation == Operation::constant)
            return {of_power(base, exponent), {}};
        return {of_power(base, exponent), product(self, function("LN({})", base, std::log(base.value)))};
    }
    case Operation::square_root:
        return {quotient({"0.5", 0.5}, self), {}};
    case Operation::exponential:
        return {self, {}};
    case Operation::natural_logarithm:
        return {quotient(one, value(operand.left)), {}};
    default:
        break;
    }
    const auto x = value(operand.left);
    switch (operand.operation) {
    case Operation::sine:
        return {function("COS({})", x, std::cos(x.value)), {}};
    case Operation::cosine:
        return {negated(function("SIN({})", x, std::sin(x.value))), {}};
    case Operation::tangent:
        return {function("(1+POWER({},2))", self, 1 + self.value * self.value), {}};
    case Operation::arcsine:
        return {quotient(one, function("SQRT(1-POWER({},2))", x, std::sqrt(1 - x.value * x.value))), {}};
    case Operation::arccosine:
        return {negated(quotient(one, function("SQRT(1-POWER({},2))", x, std::sqrt(1 - x.value * x.value)))),
                {}};
    case Operation::arctangent:
        return {quotient(one, function("(1+POWER({},2))", x, 1 + x.value * x.value)), {}};
    case Operation::absolute_value:
        return {function("SIGN({})", x, x.value > 0 ? 1.0 : (x.value < 0 ? -1.0 : 0.0)), {}};
    case Operation::minimum:
    case Operation::maximum: {
        const auto y = value(operand.right);
        const bool takes_left =
            operand.operation == Operation::minimum ? x.value <= y.value : x.value >= y.value;
        const auto* sign = operand.operation == Operation::minimum ? "<=" : ">=";
        return {Term{fmt::format("IF({}{}{},1,0)", x.text, sign, y.text), takes_left ? 1.0 : 0.0},
                Term{fmt::format("IF({}{}{},0,1)", x.text, sign, y.text), takes_left ? 0.0 : 1.0}};
    }
    default:
        return {};
    }
}

}  // namespace luxdossier::workbook
