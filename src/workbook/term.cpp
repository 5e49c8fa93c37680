#include "workbook/term.hpp"

#include "uncertainty/formula.hpp"

#include <cmath>

namespace luxdossier::workbook {
namespace {

bool is_negative(const Term& term)
{
    return !term.text.empty() && term.text.front() == '-';
}

Term magnitude(const Term& term)
{
    return is_negative(term) ? Term{term.text.substr(1), -term.value} : term;
}

}  // namespace

bool Term::is_plain() const
{
    return text.find_first_of("*/(") == std::string::npos;
}

Term number_term(double value)
{
    // A number below zero keeps its sign in front, so that products can move it.
    return {uncertainty::exact_text(value), value};
}

Term negated(const Term& term)
{
    return is_negative(term) ? magnitude(term) : Term{"-" + term.text, -term.value};
}

Term product(const Term& a, const Term& b)
{
    const auto left = magnitude(a), right = magnitude(b);
    Term result;
    if (left.is_one())
        result = right;
    else if (right.is_one())
        result = left;
    else
        result = {left.text + "*" + right.text, left.value * right.value};
    return is_negative(a) == is_negative(b) ? result : negated(result);
}

Term sum(std::span<const Term> terms)
{
    Term result{"", 0};
    for (const auto& term : terms) {
        if (!result.text.empty() && !is_negative(term))
            result.text += '+';
        result.text += term.text;
        result.value += term.value;
    }
    if (result.text.empty())
        result.text += '0';
    return result;
}

}  // namespace luxdossier::workbook
