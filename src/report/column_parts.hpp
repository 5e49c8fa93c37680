#pragma once

#include <cstddef>
#include <vector>

namespace luxdossier::report {

/// Parts a row of columns among tables that follow each other: as few tables as hold columns of these widths
/// within `room_mm`, at most `most` in each, and like numbers of columns where that fits. Returns the first
/// column of each table; a column that is wider than the room has a table of its own.
[[nodiscard]] std::vector<std::size_t> column_parts(const std::vector<double>& widths_mm, double room_mm,
                                                    std::size_t most);

}  // namespace luxdossier::report
