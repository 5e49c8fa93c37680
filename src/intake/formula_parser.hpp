#pragma once

#include "model/stated_model.hpp"

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

/// A fault of an equation: which bytes of its text it is about.
struct FormulaFault {
    std::size_t offset = 0, length = 0;
    std::string found, expected, advice;
};

struct ParsedFormula {
    std::vector<model::FormulaStep> steps;  ///< whole only where there is no fault
    std::vector<FormulaFault> faults;
};

/// Parses an equation in ordinary infix arithmetic: + - * / ^ (from right to left, before the sign),
/// parentheses, numbers, pi, the symbols of the inputs, and the functions sqrt, exp, ln, log10, sin, cos,
/// tan, asin, acos, atan (angles in rad), abs, min(a, b), max(a, b). Unknown symbols are all told; of faults
/// of the grammar the first, as what follows cannot be trusted.
[[nodiscard]] ParsedFormula parse_formula(std::string_view text, const std::vector<std::string>& symbols);

/// Whether a text can be the symbol of an input: letters (also of other alphabets), digits and _, no digit
/// first, no name that equations know already.
[[nodiscard]] bool is_symbol(std::string_view text);

}  // namespace luxdossier::intake
