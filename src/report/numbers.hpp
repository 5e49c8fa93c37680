#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace luxdossier::report {

// Numbers as the pages print them: U+2212 for minus, U+2009 between groups of three digits on both sides of
// the decimal point (ISO 80000-1:2009, 7.3.1), U+202F between a value and its unit. Judging uses unrounded
// values; this is print only.

/// Value with a fixed number of decimals; negative `decimals` round to tens, hundreds ... Ties follow the
/// exact binary value. A value that rounds to zero carries no sign. NaN and infinity: "not a number", "∞".
[[nodiscard]] std::string number_text(double value, int decimals);

/// The double nearest to the value rounded to `digits` significant digits.
[[nodiscard]] double rounded_to_digits(double value, int digits);

/// Decimals that leave `digits` significant digits of an uncertainty after rounding (0.0996 gives 2: 0.10).
/// Domain: finite and positive; digits >= 1.
[[nodiscard]] int decimals_of_uncertainty(double uncertainty, int digits = 2);

/// A value and its expanded uncertainty: U to two significant digits, the value to the same place.
/// Source: JCGM 100:2008 (GUM), 7.2.6.
struct RoundedResult {
    std::string value;
    std::string uncertainty;
};
[[nodiscard]] RoundedResult rounded_result(double value, double expanded_uncertainty);

/// Value to `digits` significant digits; beyond 1e6 and below 1e-4 as "1.2 × 10⁻⁵". Zero: "0".
[[nodiscard]] std::string significant_text(double value, int digits);

/// A stated value as written: the shortest decimal text that reads back to it, grouped, without exponent.
[[nodiscard]] std::string stated_text(double value);

/// Degrees of freedom: an integer, "> 10 000" beyond that, or "∞".
[[nodiscard]] std::string degrees_of_freedom_text(double degrees_of_freedom);

/// Unit as printed: "degree" is "°", "degC" "°C", "W/m2" "W/m²", "1" empty, "year" "a", others as they are.
[[nodiscard]] std::string unit_text(std::string_view unit);

/// Number and unit with a no-break thin space between them; none before "°" and no unit for "1".
[[nodiscard]] std::string with_unit(std::string_view number, std::string_view unit);

/// A probability or share in percent: "95.45 %"; as many decimals as given.
[[nodiscard]] std::string percent_text(double fraction, int decimals);

/// About how wide a text is at the size of tables, in millimetres: for choosing how many columns stand side
/// by side; layout/ measures exactly.
[[nodiscard]] double table_width_mm(std::string_view text);
/// The same for a column of figures that align at their points: what stands before and after them adds up.
struct DecimalWidth {
    double before_mm = 0, after_mm = 0;
    void add(std::string_view text);
    [[nodiscard]] double total_mm() const { return before_mm + after_mm; }
};

/// Probability in percent without the sign, to one decimal: "> 99.9" rather than a rounded 100.
[[nodiscard]] std::string probability_percent(double probability);

}  // namespace luxdossier::report
