#pragma once

#include <filesystem>
#include <functional>
#include <stdexcept>
#include <string>
#include <string_view>

namespace luxdossier::seal {

/// Name of the manifest inside a dossier.
inline constexpr std::string_view manifest_name = "manifest-sha256.txt";

/// SHA-256 of bytes, lower-case hex (FIPS 180-4).
[[nodiscard]] std::string sha256_hex(std::string_view bytes);
/// The same of a file, read in pieces. Errors: std::system_error with the path.
[[nodiscard]] std::string sha256_hex_of_file(const std::filesystem::path& file);

/// Reads a whole file. Errors: std::system_error with the path.
[[nodiscard]] std::string read_file(const std::filesystem::path& file);
/// Writes a whole file into a folder that is there. Errors: std::system_error with the path.
void write_file(const std::filesystem::path& file, std::string_view content);
/// Writes a file as it is made: `make` is given what appends a piece. Errors: std::system_error with the
/// path; whatever `make` throws.
void write_file_in_pieces(const std::filesystem::path& file,
                          const std::function<void(const std::function<void(std::string_view)>&)>& make);
/// Writes a whole file at a relative path below `folder`, making the folders between them, but never `folder`
/// itself: one that an interruption has taken away stays away. Errors: std::system_error with the path.
void write_file_below(const std::filesystem::path& folder, const std::filesystem::path& relative,
                      std::string_view content);
/// The same with the bytes of another file, in pieces. Errors: std::system_error with the path.
void copy_file_below(const std::filesystem::path& folder, const std::filesystem::path& relative,
                     const std::filesystem::path& source);

/// Writes manifest-sha256.txt over every regular file under `folder` but itself, paths relative and sorted,
/// in the form that `sha256sum -c` accepts.
void write_manifest(const std::filesystem::path& folder);

/// The target of publish_folder is not to be touched: the user has to choose another or allow it.
class Refusal : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};

/// Throws Refusal where publish_folder would refuse the target, so that it can be said before the work is
/// done.
void check_target(const std::filesystem::path& target, bool replace);

/// Makes a folder appear whole or not at all: `fill` writes into a fresh folder beside `target`, which is
/// then fsynced and renamed. An existing target is refused (Refusal, with advice) unless `replace`, which
/// exchanges the two atomically and refuses a folder that is no dossier of ours or that holds files of
/// somebody else. Nothing is left behind when `fill` throws or the program is interrupted (SIGINT, SIGTERM,
/// SIGHUP). Errors: Refusal; std::system_error with the path; whatever `fill` throws.
void publish_folder(const std::filesystem::path& target, bool replace,
                    const std::function<void(const std::filesystem::path&)>& fill);

}  // namespace luxdossier::seal
