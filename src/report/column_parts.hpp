#pragma once

#include "report/numbers.hpp"

#include <cstddef>
#include <string>
#include <vector>

namespace luxdossier::report {

/// Between two columns of a table.
inline constexpr double column_gap_mm = 3.2;
/// About how much a column of figures takes with the gap behind it; a heading wider than `widest_heading_mm`
/// is broken.
[[nodiscard]] double column_width_mm(const DecimalWidth& figures, const std::string& heading,
                                     double widest_heading_mm);

/// Parts a row of columns among tables that follow each other: as few tables as hold columns of these widths
/// within `room_mm`, at most `most` in each, and like numbers of columns where that fits. Returns the first
/// column of each table; a column that is wider than the room has a table of its own.
[[nodiscard]] std::vector<std::size_t> column_parts(const std::vector<double>& widths_mm, double room_mm,
                                                    std::size_t most);

}  // namespace luxdossier::report
