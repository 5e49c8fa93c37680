#pragma once

#include "layout/page.hpp"
#include "model/quantity.hpp"

#include <filesystem>
#include <string>

namespace luxdossier::pdf {

/// Draws pages on a PDF file; the date is written as creation date, so that same pages give same bytes.
/// It is read back from the disk. Returns the bytes that were written. Throws std::system_error where the
/// file cannot be written or is not whole.
std::string write_pdf(const layout::Pages& pages, model::TimePoint date, const std::filesystem::path& file);

}  // namespace luxdossier::pdf
