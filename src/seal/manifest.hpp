#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::seal {

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

/// Paths of the regular files under a folder, relative, sorted by bytes.
[[nodiscard]] std::vector<std::string> files_under(const std::filesystem::path& folder);

}  // namespace luxdossier::seal
