#pragma once

#include "cli/stages.hpp"
#include "seal/manifest.hpp"

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::cli {

/// Folder below inputs/ for files that do not come from the qualification folder: "limits/" or "template/",
/// or with a number where the qualification folder holds something of that name, so that no copy takes the
/// place of another.
[[nodiscard]] std::string folder_of_kind(std::string_view kind, const std::vector<model::InputFile>& files);

/// Byte copies of all inputs below inputs/, which is a qualification folder again; what was written is
/// appended to `written`. Errors: InputFault for a file that changed since it was read; std::system_error.
void copy_inputs(const model::Qualification& qualification, const std::vector<Source>& sources,
                 const std::filesystem::path& dossier, std::vector<seal::ManifestEntry>& written);

}  // namespace luxdossier::cli
