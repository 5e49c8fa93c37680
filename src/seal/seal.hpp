#pragma once

#include <filesystem>
#include <functional>
#include <string>
#include <string_view>

namespace luxdossier::seal {

/// SHA-256 of bytes, lower-case hex (FIPS 180-4).
[[nodiscard]] std::string sha256_hex(std::string_view bytes);
[[nodiscard]] std::string sha256_hex_of_file(const std::filesystem::path& file);

/// Writes manifest-sha256.txt over every regular file under `folder` but itself, paths relative and sorted, in the form
/// that `sha256sum -c` accepts.
void write_manifest(const std::filesystem::path& folder);

/// Makes a folder appear whole or not at all: `fill` writes into a fresh folder beside `target`, which is then fsynced
/// and renamed. An existing target is refused (std::runtime_error with advice) unless `replace`, which exchanges the
/// two atomically and refuses a folder that holds no manifest of ours. Nothing is left behind when `fill` throws or the
/// program is interrupted.
void publish_folder(const std::filesystem::path& target, bool replace,
                    const std::function<void(const std::filesystem::path&)>& fill);

}  // namespace luxdossier::seal
