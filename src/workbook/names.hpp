#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::workbook {

/// A cell of a sheet; rows and columns count from 0.
struct Position {
    std::uint32_t row = 0;
    std::uint16_t column = 0;
};

inline constexpr std::uint32_t sheet_rows = 1'048'576;  ///< rows of one sheet
inline constexpr std::size_t longest_formula = 8192;    ///< characters, the "=" included
inline constexpr std::size_t longest_text = 32'767;     ///< characters of one cell

/// "C12".
[[nodiscard]] std::string cell_name(Position position);
/// "model!C12", the sheet's name in apostrophes where it needs them.
[[nodiscard]] std::string reference(std::string_view sheet, Position position);
/// "model!$C$12": for defined names and chart ranges.
[[nodiscard]] std::string absolute_reference(std::string_view sheet, Position position);
/// "'run a'!C5:C24".
[[nodiscard]] std::string range_reference(std::string_view sheet, Position first, Position last);
/// A text constant of a formula: in quotation marks, those inside doubled.
[[nodiscard]] std::string quoted(std::string_view text);

/// Text as a cell can hold it: control characters and what reads like an escape of one ("_x0041_") are
/// escaped as ECMA-376 part 1, 22.9.2.19 asks, too long text is cut and says so.
[[nodiscard]] std::string cell_text(std::string_view text);

/// A valid sheet name made of `wanted` that is not yet in `taken` (which it joins).
[[nodiscard]] std::string sheet_name(std::string_view wanted, std::vector<std::string>& taken);

}  // namespace luxdossier::workbook
