#pragma once

#include "model/dossier.hpp"

#include <cstdint>
#include <filesystem>

namespace luxdossier::workbook {

/// Writes the live workbook and reads it back; its temporary files lie beside it. Throws std::system_error
/// where the file cannot be written or does not hold what was written, std::domain_error
/// where a value cannot be held by a sheet (never NaN or infinity in a cell).
/// `sheet_rows`: a log longer than that goes on in further sheets; fewer than a spreadsheet holds only in
/// tests.
void write_workbook(const model::Dossier& dossier, const std::filesystem::path& file,
                    std::uint32_t sheet_rows = 1'048'576);

}  // namespace luxdossier::workbook
