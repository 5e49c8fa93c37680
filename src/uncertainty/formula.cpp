#include "uncertainty/formula.hpp"

#include "uncertainty/derivative.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <set>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::uncertainty {
namespace {

enum Precedence { sum = 1, product = 2, sign = 3, exponentiation = 4, atom = 5 };

struct Text {
    std::string text;
    Precedence precedence = atom;
};

std::string_view function_name(Operation operation)
{
    switch (operation) {
    case Operation::square_root:
        return "sqrt";
    case Operation::exponential:
        return "exp";
    case Operation::natural_logarithm:
        return "ln";
    case Operation::sine:
        return "sin";
    case Operation::cosine:
        return "cos";
    case Operation::tangent:
        return "tan";
    case Operation::arcsine:
        return "asin";
    case Operation::arccosine:
        return "acos";
    case Operation::arctangent:
        return "atan";
    case Operation::absolute_value:
        return "abs";
    case Operation::minimum:
        return "min";
    case Operation::maximum:
        return "max";
    default:
        return {};
    }
}

/// Operand in parentheses unless it binds at least as tightly as `least`.
std::string within(const Text& operand, Precedence least)
{
    return operand.precedence >= least ? operand.text : fmt::format("({})", operand.text);
}

/// Right operand of + and -, where neither a sum nor a sign may stand bare.
std::string second_term(const Text& operand)
{
    return operand.text.starts_with('-') ? fmt::format("({})", operand.text) : within(operand, product);
}

using Names = std::map<Node, std::string>;

/// "D_2"; "R_0,2" where there is a subscript already.
std::string numbered(std::string_view name, std::size_t number)
{
    return fmt::format("{}{}{}", name, name.find('_') == std::string_view::npos ? '_' : ',', number);
}

/// Prints formulas, from left to right, and remembers the named nodes that they mention.
class Printer {
public:
    Printer(const Graph& graph, Names names) : graph_(graph), names_(std::move(names)) {}

    /// "E = (R - R0) C"; without a name the formula alone.
    std::string line(Node node)
    {
        const auto name = name_of(node);
        const auto text = formula(node).text;
        return name.empty() || name == text ? text : fmt::format("{} = {}", name, text);
    }

    Text formula(Node node)
    {
        const auto& operand = graph_.operations()[node.index];
        const Node left{operand.left}, right{operand.right};
        switch (operand.operation) {
        case Operation::input:
            return {name_of(node), atom};
        case Operation::constant:
            return {exact_text(operand.value), std::signbit(operand.value) ? sign : atom};
        case Operation::add:
        case Operation::subtract: {
            const auto first = within(print(left), sum), second = second_term(print(right));
            return {fmt::format("{} {} {}", first, operand.operation == Operation::add ? '+' : '-', second),
                    sum};
        }
        case Operation::multiply:
            return {product_text(left, right), product};
        case Operation::divide: {
            const auto above = within(print(left), product), below = within(print(right), exponentiation);
            return {fmt::format("{}/{}", above, below), product};
        }
        case Operation::negate:
            return {fmt::format("-{}", within(print(left), product)), sign};
        case Operation::power: {
            const auto base = within(print(left), atom), exponent = within(print(right), atom);
            return {fmt::format("{}^{}", base, exponent), exponentiation};
        }
        case Operation::estimate:
            return {call_text(graph_.calls()[operand.left], operand.right), atom};
        case Operation::minimum:
        case Operation::maximum: {
            const auto first = print(left).text, second = print(right).text;
            return {fmt::format("{}({}, {})", function_name(operand.operation), first, second), atom};
        }
        default:
            return {fmt::format("{}({})", function_name(operand.operation), print(left).text), atom};
        }
    }

    /// Named nodes in the order in which they were first mentioned; taken once.
    std::vector<Node> take_mentioned() { return std::exchange(mentioned_, {}); }

    /// Names for nodes that were printed by a name that others were printed by as well.
    [[nodiscard]] Names names_apart() const
    {
        std::map<std::string_view, std::vector<Node>> by_name;
        for (const Node node : printed_by_name_)
            by_name[shared_name(node)].push_back(node);
        Names apart;
        for (const auto& [name, nodes] : by_name)
            for (std::size_t index = 0; nodes.size() > 1 && index < nodes.size(); ++index)
                apart.emplace(nodes[index], numbered(name, index + 1));
        return apart;
    }

private:
    [[nodiscard]] std::string_view shared_name(Node node) const
    {
        const auto& operand = graph_.operations()[node.index];
        const auto name = graph_.name(node);
        return name.empty() && operand.operation == Operation::input ? graph_.inputs()[operand.left].symbol
                                                                     : name;
    }

    std::string name_of(Node node)
    {
        const auto name = shared_name(node);
        if (!name.empty() && std::ranges::find(printed_by_name_, node) == printed_by_name_.end())
            printed_by_name_.push_back(node);
        const auto apart = names_.find(node);
        return apart == names_.end() ? std::string(name) : apart->second;
    }

    /// A node as it stands inside a formula: by its name where it has one.
    Text print(Node node)
    {
        const auto operation = graph_.operations()[node.index].operation;
        if (const auto name = shared_name(node); !name.empty()) {
            // Of several by one name the first is explained: the others are alike.
            if (operation != Operation::input && known_.insert(name).second)
                mentioned_.push_back(node);
            return {name_of(node), atom};
        }
        // Shared subexpressions without a name are printed wherever they stand, which may grow without end.
        if (++printed_ > longest)
            return {"...", atom};
        return formula(node);
    }

    std::string product_text(Node left, Node right)
    {
        const auto first = within(print(left), product);
        const auto operand = print(right);
        // a (b/c) would read as (a b)/c, which is the same value but another order: keep the parentheses.
        const auto second = within(operand, exponentiation);
        const bool is_number = !second.empty() && second.front() >= '0' && second.front() <= '9';
        return fmt::format("{}{}{}", first, is_number ? " x " : " ", second);
    }

    std::string call_text(const EstimatorCall& call, std::size_t output)
    {
        constexpr std::size_t printed_whole = 4;
        const auto count = call.arguments.size();
        std::string arguments;
        for (std::size_t index = 0; index < (count > printed_whole ? 2 : count); ++index)
            arguments += fmt::format("{}{}", index == 0 ? "" : ", ", print(call.arguments[index]).text);
        return fmt::format("{}({}{}).{}", call.estimator->name(), arguments,
                           count > printed_whole ? " ..." : "", call.estimator->output_name(output));
    }

    static constexpr int longest = 1000;
    const Graph& graph_;
    Names names_;
    std::set<std::string_view> known_;
    std::vector<Node> mentioned_, printed_by_name_;
    int printed_ = 0;
};

struct Printed {
    std::string text;
    Names apart;  ///< names that several nodes would share
};

Printed print(const Graph& graph, Node result, int depth, Names names)
{
    Printer printer(graph, std::move(names));
    Printed printed;
    printed.text = printer.line(result);
    for (int level = 0; level < depth; ++level)
        for (const Node node : printer.take_mentioned())
            printed.text += "; " + printer.line(node);
    printed.apart = printer.names_apart();
    return printed;
}

/// True where a text is one cell reference, name or number without sign: no operator outside a quoted sheet
/// name.
bool stands_alone(std::string_view text)
{
    bool quoted = false;
    for (const char character : text) {
        if (character == '\'')
            quoted = !quoted;
        else if (!quoted && std::string_view{"+-*/^&=<>(), "}.find(character) != std::string_view::npos)
            return false;
    }
    return true;
}

std::string_view spreadsheet_function(Operation operation)
{
    switch (operation) {
    case Operation::square_root:
        return "SQRT";
    case Operation::exponential:
        return "EXP";
    case Operation::natural_logarithm:
        return "LN";
    case Operation::sine:
        return "SIN";
    case Operation::cosine:
        return "COS";
    case Operation::tangent:
        return "TAN";
    case Operation::arcsine:
        return "ASIN";
    case Operation::arccosine:
        return "ACOS";
    case Operation::arctangent:
        return "ATAN";
    case Operation::absolute_value:
        return "ABS";
    case Operation::minimum:
        return "MIN";
    case Operation::maximum:
        return "MAX";
    default:
        return {};
    }
}

char spreadsheet_operator(Operation operation)
{
    switch (operation) {
    case Operation::add:
        return '+';
    case Operation::subtract:
        return '-';
    case Operation::multiply:
        return '*';
    case Operation::divide:
        return '/';
    case Operation::power:
        return '^';
    default:
        return '\0';
    }
}

}  // namespace

std::string printed_formula(const Graph& graph, Node result, int depth)
{
    auto printed = print(graph, result, depth, {});
    return printed.apart.empty() ? printed.text : print(graph, result, depth, printed.apart).text;
}

std::map<Input, std::string> symbols_apart(const Graph& graph, Node result, int depth)
{
    std::map<Input, std::string> symbols;
    for (const auto& [node, name] : print(graph, result, depth, {}).apart) {
        const auto& operand = graph.operations()[node.index];
        if (operand.operation == Operation::input)
            symbols.emplace(Input{operand.left}, name);
    }
    return symbols;
}

std::string spreadsheet_formula(const Graph& graph, Node node,
                                const std::function<std::string(Node)>& cell_of)
{
    const auto& operand = graph.operations()[node.index];
    // Spreadsheets bind a sign tighter than ^ (-2^2 is 4 there): whatever is no plain reference stands in
    // parentheses.
    const auto cell = [&](std::uint32_t index) {
        auto text = cell_of(Node{index});
        return stands_alone(text) ? text : fmt::format("({})", text);
    };
    switch (operand.operation) {
    case Operation::input:
    case Operation::estimate:
        return {};
    case Operation::constant:
        return exact_text(operand.value);
    case Operation::negate:
        return fmt::format("-{}", cell(operand.left));
    case Operation::minimum:
    case Operation::maximum:
        return fmt::format("{}({},{})", spreadsheet_function(operand.operation), cell(operand.left),
                           cell(operand.right));
    default:
        break;
    }
    if (const char sign_text = spreadsheet_operator(operand.operation))
        return fmt::format("{}{}{}", cell(operand.left), sign_text, cell(operand.right));
    return fmt::format("{}({})", spreadsheet_function(operand.operation), cell_of(Node{operand.left}));
}

std::string exact_text(double value)
{
    if (!std::isfinite(value))
        throw std::domain_error(fmt::format("found {}, expected a finite number to write", value));
    return fmt::format("{}", value);
}

}  // namespace luxdossier::uncertainty
