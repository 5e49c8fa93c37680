#pragma once

#include <string>
#include <string_view>

namespace luxdossier::intake {

/// What the marks in the text of a number can mean, before it is known which sign is the decimal mark.
struct NumberMarks {
    enum class Kind {
        none,     ///< no number with marks: digits alone, or no number at all
        decimal,  ///< the mark can only be a decimal mark: "12.5", "0,998", "1234,567"
        either,   ///< decimal mark or mark of thousands: "1,012" is 1.012 or 1012
        grouped,  ///< digits in groups of three: "1,012.5", "1 012 000", "1'012"
    };
    Kind kind = Kind::none;
    char mark = 0;           ///< of decimal and either: '.' or ','
    std::string as_decimal;  ///< of either: "1.012"
    std::string ungrouped;   ///< of either and grouped: "1012", "1012.5"
};

/// Groups are of three digits behind one to three of which the first is not 0 (ISO 80000-1:2022, 7.3.1,
/// allows a blank between them; commas, points, apostrophes and low lines are found too).
[[nodiscard]] NumberMarks marks_of(std::string_view text);

}  // namespace luxdossier::intake
