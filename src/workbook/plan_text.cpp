#include "workbook/plan_text.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <functional>
#include <numbers>
#include <stdexcept>
#include <unordered_map>

#include <fmt/format.h>

namespace luxdossier::workbook {

using uncertainty::Node;

namespace {

struct Place {
    char kind = 'i';
    std::size_t index = 0;
};

/// A place such as "{c12}" at the front of `text`, which it shortens.
std::optional<Place> take_place(std::string_view& text)
{
    const auto end = text.find('}');
    if (text.size() < 4 || text.front() != '{' || end == std::string_view::npos)
        return {};
    Place place{text[1], 0};
    const auto [stop, error] = std::from_chars(text.data() + 2, text.data() + end, place.index);
    if (error != std::errc{} || stop != text.data() + end)
        return {};
    text.remove_prefix(end + 1);
    return place;
}

using Values = std::vector<double>;

/// Reads one formula and gives its value: a list, of one element where it is no range.
class Reader {
public:
    Reader(std::string_view text, std::span<const double> inputs, std::span<const double> cells,
           const uncertainty::CellPlan& plan)
        : rest_(text), inputs_(inputs), cells_(cells), plan_(plan)
    {
    }

    double whole()
    {
        const auto result = comparison();
        skip();
        if (!rest_.empty() || result.size() != 1)
            throw std::invalid_argument("not one number");
        return result.front();
    }

private:
    void skip()
    {
        while (!rest_.empty() && rest_.front() == ' ')
            rest_.remove_prefix(1);
    }

    bool take(std::string_view token)
    {
        skip();
        if (!rest_.starts_with(token))
            return false;
        rest_.remove_prefix(token.size());
        return true;
    }

    static Values combine(const Values& a, const Values& b,
                          const std::function<double(double, double)>& operation)
    {
        if (a.size() != b.size() && a.size() != 1 && b.size() != 1)
            throw std::invalid_argument("ranges of unlike size");
        Values result(std::max(a.size(), b.size()));
        for (std::size_t i = 0; i < result.size(); ++i)
            result[i] = operation(a[a.size() == 1 ? 0 : i], b[b.size() == 1 ? 0 : i]);
        return result;
    }

    Values comparison()
    {
        auto left = sum();
        if (take("<="))
            return combine(left, sum(), [](double a, double b) { return a <= b ? 1.0 : 0.0; });
        if (take(">="))
            return combine(left, sum(), [](double a, double b) { return a >= b ? 1.0 : 0.0; });
        if (take("<>"))
            return combine(left, sum(), [](double a, double b) { return a != b ? 1.0 : 0.0; });
        if (take("<"))
            return combine(left, sum(), [](double a, double b) { return a < b ? 1.0 : 0.0; });
        if (take(">"))
            return combine(left, sum(), [](double a, double b) { return a > b ? 1.0 : 0.0; });
        if (take("="))
            return combine(left, sum(), [](double a, double b) { return a == b ? 1.0 : 0.0; });
        return left;
    }

    Values sum()
    {
        auto left = factor();
        for (;;) {
            if (take("+"))
                left = combine(left, factor(), std::plus<>{});
            else if (take("-"))
                left = combine(left, factor(), std::minus<>{});
            else
                return left;
        }
    }

    Values factor()
    {
        auto left = exponentiation();
        for (;;) {
            if (take("*"))
                left = combine(left, exponentiation(), std::multiplies<>{});
            else if (take("/"))
                left = combine(left, exponentiation(), std::divides<>{});
            else
                return left;
        }
    }

    Values exponentiation()
    {
        // A sign binds more tightly than ^ in a spreadsheet.
        auto left = sign();
        while (take("^"))
            left = combine(left, sign(), [](double a, double b) { return std::pow(a, b); });
        return left;
    }

    Values sign()
    {
        if (take("-"))
            return combine({-1.0}, sign(), std::multiplies<>{});
        if (take("+"))
            return sign();
        return atom();
    }

    double value_of(Place place) const
    {
        const auto& from = place.kind == 'i' ? inputs_ : cells_;
        const auto index = place.kind == 'o' ? plan_.outputs.at(place.index) : place.index;
        if (index >= from.size())
            throw std::invalid_argument("a place that is not there yet");
        return from[index];
    }

    Values atom()
    {
        skip();
        if (take("(")) {
            auto inner = comparison();
            if (!take(")"))
                throw std::invalid_argument("no closing parenthesis");
            return inner;
        }
        if (const auto place = take_place(rest_)) {
            if (place->kind != 'c' || !take(":"))
                return {value_of(*place)};
            const auto last = take_place(rest_);
            if (!last || last->kind != 'c' || last->index < place->index)
                throw std::invalid_argument("no end of a range");
            Values range;
            for (auto index = place->index; index <= last->index; ++index)
                range.push_back(value_of({'c', index}));
            return range;
        }
        double number = 0;
        const auto [stop, error] = std::from_chars(rest_.data(), rest_.data() + rest_.size(), number);
        if (error == std::errc{}) {
            rest_.remove_prefix(static_cast<std::size_t>(stop - rest_.data()));
            return {number};
        }
        return function();
    }

    Values function()
    {
        const auto parenthesis = rest_.find('(');
        if (parenthesis == std::string_view::npos)
            throw std::invalid_argument("no operand");
        const auto name = rest_.substr(0, parenthesis);
        rest_.remove_prefix(parenthesis + 1);
        std::vector<Values> arguments;
        if (!take(")")) {
            do
                arguments.push_back(comparison());
            while (take(","));
            if (!take(")"))
                throw std::invalid_argument("no closing parenthesis");
        }
        return {call(name, arguments)};
    }

    static double call(std::string_view name, const std::vector<Values>& arguments)
    {
        static const std::unordered_map<std::string_view, double (*)(double)> unary{
            {"SQRT", [](double x) { return std::sqrt(x); }},
            {"EXP", [](double x) { return std::exp(x); }},
            {"LN", [](double x) { return std::log(x); }},
            {"ABS", [](double x) { return std::abs(x); }},
            {"SIN", [](double x) { return std::sin(x); }},
            {"COS", [](double x) { return std::cos(x); }},
            {"TAN", [](double x) { return std::tan(x); }},
            {"ASIN", [](double x) { return std::asin(x); }},
            {"ACOS", [](double x) { return std::acos(x); }},
            {"ATAN", [](double x) { return std::atan(x); }},
            {"INT", [](double x) { return std::floor(x); }},
            {"SIGN", [](double x) { return x > 0 ? 1.0 : (x < 0 ? -1.0 : 0.0); }}};
        const auto scalar = [&](std::size_t i) { return arguments.at(i).at(0); };
        if (const auto found = unary.find(name); found != unary.end())
            return found->second(scalar(0));
        if (name == "PI")
            return std::numbers::pi;
        if (name == "POWER")
            return std::pow(scalar(0), scalar(1));
        if (name == "IF")
            return scalar(0) != 0 ? scalar(1) : scalar(2);
        if (name == "SUMPRODUCT")
            return sum_of_products(arguments);
        Values all;
        for (const auto& argument : arguments)
            all.insert(all.end(), argument.begin(), argument.end());
        if (all.empty())
            throw std::invalid_argument("a function without arguments");
        if (name == "SUM")
            return sum_of_products({all});
        if (name == "AVERAGE")
            return sum_of_products({all}) / static_cast<double>(all.size());
        if (name == "MIN")
            return *std::ranges::min_element(all);
        if (name == "MAX")
            return *std::ranges::max_element(all);
        if (name == "AND")
            return std::ranges::all_of(all, [](double x) { return x != 0; }) ? 1 : 0;
        if (name == "OR")
            return std::ranges::any_of(all, [](double x) { return x != 0; }) ? 1 : 0;
        throw std::invalid_argument("an unknown function");
    }

    static double sum_of_products(const std::vector<Values>& arguments)
    {
        Values product{1.0};
        for (const auto& argument : arguments)
            product = combine(product, argument, std::multiplies<>{});
        double total = 0;
        for (const double value : product)
            total += value;
        return total;
    }

    std::string_view rest_;
    std::span<const double> inputs_, cells_;
    const uncertainty::CellPlan& plan_;
};

}  // namespace

std::string plan_formula(const uncertainty::Graph& graph, const CellMap& map, std::size_t call,
                         std::string_view pattern)
{
    const auto& plan = map.plans()[call];
    const auto& arguments = graph.calls()[call].arguments;
    const auto text_of = [&](Place place) {
        if (place.kind == 'i')
            return map.value(arguments.at(place.index)).text;
        return map.helper_cell(call, place.kind == 'o' ? plan.outputs.at(place.index) : place.index);
    };
    std::string result;
    while (!pattern.empty()) {
        const auto place = take_place(pattern);
        if (!place) {
            result += pattern.front();
            pattern.remove_prefix(1);
            continue;
        }
        const auto text = text_of(*place);
        // A negative constant as an operand.
        result += text.front() == '-' ? fmt::format("({})", text) : text;
        if (place->kind == 'c' && pattern.starts_with(":{c")) {
            pattern.remove_prefix(1);
            const auto last = text_of(take_place(pattern).value());
            result += ":" + last.substr(last.rfind('!') + 1);
        }
    }
    return result;
}

std::string filled_in(std::string_view pattern, std::span<const std::string> operands)
{
    std::string result;
    while (!pattern.empty()) {
        if (const auto place = take_place(pattern)) {
            const auto& text = operands[place->index];
            result += text.starts_with('-') ? fmt::format("({})", text) : text;
            continue;
        }
        result += pattern.front();
        pattern.remove_prefix(1);
    }
    return result;
}

std::optional<std::vector<double>> plan_values(const uncertainty::CellPlan& plan,
                                               std::span<const double> inputs)
{
    std::vector<double> cells;
    try {
        for (const auto& cell : plan.cells) {
            cells.push_back(Reader(cell.formula, inputs, cells, plan).whole());
            if (!std::isfinite(cells.back()))
                return {};
        }
    } catch (const std::logic_error&) {
        return {};
    }
    return cells;
}

}  // namespace luxdossier::workbook
