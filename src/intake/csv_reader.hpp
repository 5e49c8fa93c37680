#pragma once

#include "diagnostics/diagnostic.hpp"
#include "intake/csv_format.hpp"
#include "intake/intake.hpp"
#include "model/table.hpp"

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace luxdossier::intake {

/// Lines behind the heading that begin with # and so are no rows: those among the rows, and those before the
/// first or behind the last row that would be a row without the sign.
struct CsvComments {
    std::vector<std::uint32_t> among_rows;
    std::vector<std::uint32_t> like_rows;  ///< those of them that would be rows
};

/// Reads the requested columns of a CSV file (RFC 4180, comment lines and other delimiters besides) in one
/// pass; the table holds them in the order of the requests, numbers and texts apart. Faults are appended, at
/// most `most_faults_of_a_file` for one file; empty where there was one. Units: numbers are converted; date
/// and time become seconds since 1970-01-01T00:00:00. Where the decimal mark is not stated, numbers that
/// could hold a mark of thousands as well are only taken if another number of the file tells the two apart.
[[nodiscard]] std::optional<model::Table> read_csv(const std::string& name, const Files::Answer& file,
                                                   const CsvFormat& format,
                                                   std::span<const ColumnRequest> requests,
                                                   diagnostics::Diagnostics& diagnostics,
                                                   CsvComments* comments = nullptr);

inline constexpr std::size_t most_faults_of_a_file = 20;

/// A diagnostic about a row of a table that was read from a file, showing its line where the file was held
/// whole and is UTF-8.
[[nodiscard]] diagnostics::Diagnostic row_diagnostic(const std::string& name, const Files::Answer& file,
                                                     const model::Table& table, std::size_t row);

/// The same about a line of the file, from 1.
[[nodiscard]] diagnostics::Diagnostic line_diagnostic(const std::string& name, const Files::Answer& file,
                                                      std::size_t number);

}  // namespace luxdossier::intake
