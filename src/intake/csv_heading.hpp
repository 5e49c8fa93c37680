#pragma once

#include "diagnostics/diagnostic.hpp"
#include "intake/csv_format.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

/// What the heading line of a CSV file settles.
struct CsvHeading {
    char delimiter = ',';
    std::vector<std::string> cells;
    /// Index of the request that each column serves, or `unused`.
    std::vector<std::int32_t> request_of_column;
    static constexpr std::int32_t unused = -1;
};

/// Cells of one line: quotes taken off (RFC 4180, 2.5 to 2.7), blanks around unquoted cells dropped.
[[nodiscard]] std::vector<std::string> split_line(std::string_view line, char delimiter);

/// Finds the requested headings in the heading line. A delimiter that is not stated is the one that gives all
/// of them; faults are appended where none does or several do, and where a heading is missing or stands there
/// twice.
[[nodiscard]] std::optional<CsvHeading> read_heading(const std::string& file, std::size_t line_number,
                                                     std::string_view line,
                                                     const std::optional<char>& delimiter,
                                                     std::span<const ColumnRequest> requests,
                                                     diagnostics::Diagnostics& diagnostics);

/// "a tab", "\";\"": as messages call a delimiter.
[[nodiscard]] std::string delimiter_text(char delimiter);

}  // namespace luxdossier::intake
