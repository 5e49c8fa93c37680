#pragma once

#include "seal/seal.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace luxdossier::seal {

/// A dossier that is exactly what its manifest seals.
struct Sealed {
    std::vector<ManifestEntry> entries;
    std::string manifest_sha256;
};

/// Compares a folder with its manifest: names, digests, links, folders. `shown` is what messages call it.
/// Errors: Refusal naming what is not as it was sealed; std::system_error.
[[nodiscard]] Sealed check_sealed(const std::filesystem::path& folder, const std::string& shown);

/// Removes the files of a dossier that the manifest lists, the manifest and the folders that are empty then.
/// False where something else is left, which stays.
[[nodiscard]] bool remove_sealed(const std::filesystem::path& folder, const Sealed& sealed);

}  // namespace luxdossier::seal
