#pragma once

#include "model/dossier.hpp"

#include <filesystem>

namespace luxdossier::workbook {

/// Writes the live workbook. Throws std::system_error where the file cannot be written, std::domain_error
/// where a value cannot be held by a sheet (never NaN or infinity in a cell).
void write_workbook(const model::Dossier& dossier, const std::filesystem::path& file);

}  // namespace luxdossier::workbook
