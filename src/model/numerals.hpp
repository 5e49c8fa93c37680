#pragma once

#include <string>
#include <string_view>

namespace luxdossier::model {

// Figures inside sentences, for remarks, statements and the report alike: one look wherever they are read.

/// Digits of a plain decimal "[-]123456.789" as ISO 80000-1:2009, 7.3.1 sets them: U+2212 for minus, U+2009
/// between groups of three on both sides of the point, numbers of four digits in one piece. A zero carries no
/// sign.
/// Domain: digits with at most one point and a leading minus, no exponent.
[[nodiscard]] std::string grouped_digits(std::string_view plain);

/// A value rounded to at most `digits` significant digits, written out without an exponent and without zeros
/// at its end: 98267.4 to 4 digits is "98 270". NaN and infinity: "not a number", "∞".
/// Domain: digits >= 1.
[[nodiscard]] std::string numeral(double value, int digits);

}  // namespace luxdossier::model
