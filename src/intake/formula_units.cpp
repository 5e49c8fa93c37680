#include "intake/formula_units.hpp"

#include "intake/units.hpp"
#include "uncertainty/derivative.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

using uncertainty::Operation;

/// Unit of a part of an equation as udunits2 reads it.
struct PartUnit {
    bool is_known = true;    ///< false: cannot be told (a root of a unit)
    bool is_number = false;  ///< a number of the equation: fits any unit in a sum
    std::string text = "1";
    std::string words = "1";  ///< as remarks call it
    double number = 0;
};

PartUnit unit_of(const model::StatedInput& input)
{
    // An angle in rad is a pure number in an equation; a degree is a scaled one.
    if (const auto angle = convert_unit(input.unit, "rad"); angle.state == UnitState::known)
        return {true, false, fmt::format("{:.17g}", angle.conversion.scale), input.unit, 0};
    return {true, false, fmt::format("({})", input.unit), input.unit, 0};
}

class Checker {
public:
    explicit Checker(const model::StatedModel& model) : model_(model) {}

    std::vector<std::string> check() &&
    {
        std::vector<PartUnit> stack;
        for (const auto& step : model_.formula) {
            if (step.operation == Operation::input) {
                const auto input = std::ranges::find(model_.inputs, step.symbol, &model::StatedInput::symbol);
                stack.push_back(input == model_.inputs.end() ? PartUnit{false, false, "", "", 0}
                                                             : unit_of(*input));
                continue;
            }
            if (step.operation == Operation::constant) {
                stack.push_back({true, true, "1", "1", step.number});
                continue;
            }
            const auto right = stack.back();
            if (uncertainty::operand_count(step.operation) > 1) {
                stack.pop_back();
                stack.back() = binary(step.operation, stack.back(), right);
            } else {
                stack.back() = unary(step.operation, right);
            }
        }
        const auto& result = stack.back();
        if (result.is_known && !result.is_number) {
            const auto stated = unit_of({"", "", model_.unit, "", 0, {}, 0, 0, 0, {}, {}, false});
            compare(result, stated,
                    fmt::format("the equation gives {} for a result in {}", result.words, model_.unit));
        }
        return std::move(remarks_);
    }

private:
    void compare(const PartUnit& a, const PartUnit& b, const std::string& what)
    {
        if (!a.is_known || !b.is_known || a.is_number || b.is_number)
            return;
        const auto answer = convert_unit(a.text, b.text);
        if (answer.state == UnitState::known && std::abs(answer.conversion.scale - 1.0) < 1e-9 &&
            answer.conversion.offset == 0.0)
            return;
        const auto text =
            answer.state == UnitState::known ? what + ", of one dimension but another size" : what;
        if (std::ranges::find(remarks_, text) == remarks_.end())
            remarks_.push_back(text);
    }

    PartUnit binary(Operation operation, const PartUnit& a, const PartUnit& b)
    {
        switch (operation) {
        case Operation::multiply:
        case Operation::divide:
            return combined(a, b, operation == Operation::multiply);
        case Operation::power:
            return raised(a, b);
        default: {
            compare(a, b, fmt::format("{} and {} are put together as one quantity", a.words, b.words));
            return a.is_number || !a.is_known ? b : a;
        }
        }
    }

    static PartUnit combined(const PartUnit& a, const PartUnit& b, bool is_product)
    {
        if (a.is_number && b.is_number)
            return {true, true, "1", "1", is_product ? a.number * b.number : a.number / b.number};
        PartUnit made;
        made.is_known = a.is_known && b.is_known;
        made.text =
            is_product ? fmt::format("({})*({})", a.text, b.text) : fmt::format("({})/({})", a.text, b.text);
        const bool a_is_one = a.is_number || a.words == "1", b_is_one = b.is_number || b.words == "1";
        if (b_is_one)
            made.words = a.words;
        else if (is_product)
            made.words = a_is_one ? b.words : fmt::format("{}.{}", a.words, b.words);
        else
            made.words = fmt::format("{}/({})", a_is_one ? "1" : a.words, b.words);
        return made;
    }

    PartUnit raised(const PartUnit& a, const PartUnit& b)
    {
        if (a.is_number && b.is_number)
            return {true, true, "1", "1", std::pow(a.number, b.number)};
        if (!b.is_number) {
            pure(a, "the base of an uncertain power");
            pure(b, "an exponent");
            return {};
        }
        if (b.number != std::round(b.number) || std::abs(b.number) > 20.0) {
            const auto one = convert_unit(a.text, "1");
            return {a.is_known && one.state == UnitState::known, false, "1", "1", 0};
        }
        const int exponent = static_cast<int>(b.number);
        if (exponent == 0)
            return {};
        return {a.is_known, false, fmt::format("({})^{}", a.text, exponent),
                a.words == "1" ? "1" : fmt::format("({})^{}", a.words, exponent), 0};
    }

    PartUnit unary(Operation operation, const PartUnit& a)
    {
        switch (operation) {
        case Operation::negate:
            return {a.is_known, a.is_number, a.text, a.words, -a.number};
        case Operation::absolute_value:
            return a;
        case Operation::square_root: {
            const auto one = convert_unit(a.text, "1");
            return {a.is_known && one.state == UnitState::known, a.is_number, "1", "1", std::sqrt(a.number)};
        }
        default:
            pure(a, "the argument of a function");
            return {true, a.is_number, "1", "1", 0};
        }
    }

    void pure(const PartUnit& part, std::string_view what)
    {
        compare(part, {},
                fmt::format("{} is in {}, where a pure number or rad is expected", what, part.words));
    }

    const model::StatedModel& model_;
    std::vector<std::string> remarks_;
};

}  // namespace

std::vector<std::string> unit_remarks(const model::StatedModel& model)
{
    return model.formula.empty() ? std::vector<std::string>{} : Checker(model).check();
}

}  // namespace luxdossier::intake
