#pragma once

#include <span>
#include <string>
#include <vector>

namespace luxdossier::workbook {

/// A piece of formula with the value that it has now. The text is a product: factors joined by * and /, with
/// a leading
/// "-" at most; anything else stands in parentheses.
struct Term {
    std::string text;
    double value = 0;
    [[nodiscard]] bool is_one() const { return text == "1"; }
    /// "1", "-1" or one cell with or without a sign: shorter than a cell of its own.
    [[nodiscard]] bool is_plain() const;
};

[[nodiscard]] Term number_term(double value);
[[nodiscard]] Term negated(const Term& term);
[[nodiscard]] Term product(const Term& a, const Term& b);
/// "a+b-c": the text of a whole formula, no Term any more.
[[nodiscard]] Term sum(std::span<const Term> terms);

}  // namespace luxdossier::workbook
