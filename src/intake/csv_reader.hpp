#pragma once

#include "diagnostics/diagnostic.hpp"
#include "intake/csv_format.hpp"
#include "intake/intake.hpp"
#include "model/table.hpp"

#include <optional>
#include <span>
#include <string>

namespace luxdossier::intake {

/// Reads the requested columns of a CSV file (RFC 4180, comment lines and other delimiters besides) in one
/// pass; the table holds them in the order of the requests, numbers and texts apart. Faults are appended, at
/// most `most_faults_of_a_file` for one file; empty where there was one. Units: numbers are converted; date
/// and time become seconds since 1970-01-01T00:00:00.
[[nodiscard]] std::optional<model::Table> read_csv(const std::string& name, const Files::Answer& file,
                                                   const CsvFormat& format,
                                                   std::span<const ColumnRequest> requests,
                                                   diagnostics::Diagnostics& diagnostics);

inline constexpr std::size_t most_faults_of_a_file = 20;

/// A diagnostic about a row of a table that was read from a file, showing its line where the file was held
/// whole and is UTF-8.
[[nodiscard]] diagnostics::Diagnostic row_diagnostic(const std::string& name, const Files::Answer& file,
                                                     const model::Table& table, std::size_t row);

}  // namespace luxdossier::intake
