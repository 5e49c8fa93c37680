#pragma once

#include <filesystem>
#include <optional>
#include <string>

namespace luxdossier::record {

/// Reads a file that was written as JSON from the disk. Errors: std::system_error where it is none any more.
void check_json(const std::filesystem::path& file);

/// Number of the document that a record tells of; empty where it has none. Errors: std::system_error.
[[nodiscard]] std::optional<std::string> document_number(const std::filesystem::path& record);

}  // namespace luxdossier::record
