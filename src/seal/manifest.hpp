#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::seal {

/// Name of the manifest inside a dossier.
inline constexpr std::string_view manifest_name = "manifest-sha256.txt";

/// One line of a manifest.
struct ManifestEntry {
    std::string path;    ///< relative to the folder, "/" between its parts
    std::string sha256;  ///< lower-case hex
};

/// Text of a manifest as `sha256sum -c` reads it: names that hold a backslash, a line feed or a carriage
/// return are escaped, and their line begins with a backslash.
[[nodiscard]] std::string manifest_text(const std::vector<ManifestEntry>& entries);

/// Reads a manifest back; empty where the text is none.
[[nodiscard]] std::vector<ManifestEntry> parse_manifest(std::string_view text);

/// Visits everything under a folder, folders before what they hold; links are not followed.
/// Errors: std::system_error with the path of the folder that cannot be read.
void walk(const std::filesystem::path& folder,
          const std::function<void(const std::filesystem::directory_entry&)>& visit);

/// Paths of the regular files under a folder, relative, sorted by bytes. Errors: as walk().
[[nodiscard]] std::vector<std::string> files_under(const std::filesystem::path& folder);

}  // namespace luxdossier::seal
