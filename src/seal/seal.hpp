#pragma once

#include "seal/manifest.hpp"

#include <filesystem>
#include <functional>
#include <memory>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

struct evp_md_ctx_st;

namespace luxdossier::seal {

/// SHA-256 of bytes that come in pieces (FIPS 180-4).
class Digest {
public:
    Digest();
    void add(std::string_view bytes);
    /// Lower-case hex; nothing may be added afterwards.
    [[nodiscard]] std::string hex();

private:
    struct Free {
        void operator()(evp_md_ctx_st* context) const;
    };
    std::unique_ptr<evp_md_ctx_st, Free> context_;
};

/// SHA-256 of bytes, lower-case hex (FIPS 180-4).
[[nodiscard]] std::string sha256_hex(std::string_view bytes);
/// The same of a file, read in pieces. Errors: std::system_error with the path.
[[nodiscard]] std::string sha256_hex_of_file(const std::filesystem::path& file);

/// Reads a whole file. Errors: std::system_error with the path.
[[nodiscard]] std::string read_file(const std::filesystem::path& file);

/// Makes the bytes of a file: it is given what appends a piece.
using MakePieces = std::function<void(const std::function<void(std::string_view)>&)>;

// Writers return the SHA-256 of the bytes that they were given, so that what lies on the disk can be compared
// with it. Errors: std::system_error with the path; whatever `make` throws.

/// Writes a whole file into a folder that is there.
std::string write_file(const std::filesystem::path& file, std::string_view content);
/// Writes a file as it is made.
std::string write_file_in_pieces(const std::filesystem::path& file, const MakePieces& make);
/// Writes a file at a relative path below `folder`, making the folders between them, but never `folder`
/// itself: one that an interruption has taken away stays away.
std::string write_file_below(const std::filesystem::path& folder, const std::filesystem::path& relative,
                             std::string_view content);
std::string write_file_in_pieces_below(const std::filesystem::path& folder,
                                       const std::filesystem::path& relative, const MakePieces& make);

/// Writes manifest-sha256.txt over every regular file under `folder` but itself, paths relative and sorted,
/// in the form that `sha256sum -c` accepts.
void write_manifest(const std::filesystem::path& folder);
/// The same where it is known what was written: every file must be there, and no other, and read back as it
/// was written. Errors: std::system_error with the path of what does not.
void write_manifest(const std::filesystem::path& folder, const std::vector<ManifestEntry>& written);

/// The target of publish_folder is not to be touched: the user has to choose another or allow it.
class Refusal : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};

/// Throws Refusal where a dossier that lies in `folder` and is called `shown` must not be replaced.
using Examine = std::function<void(const std::filesystem::path& folder, const std::string& shown)>;

/// What stood at a target when it was looked at, before the work.
struct Standing {
    std::filesystem::path target;  ///< absolute
    std::string manifest_sha256;   ///< of the dossier that stands there; empty: nothing stands there
};

/// Looks at a target before the work is done. Refusal, with advice: the target is there and not to be
/// replaced, or it is not exactly the dossier that its manifest seals (a file changed, added or removed, a
/// link, a folder of somebody else), or `examine` refuses it, or it lies inside another dossier.
[[nodiscard]] Standing check_target(const std::filesystem::path& target, bool replace,
                                    const Examine& examine = {});

/// Makes a folder appear whole or not at all: `fill` writes into a fresh folder beside the target, which is
/// then fsynced and renamed. Where a dossier stood there, the two are exchanged in one step; what was brought
/// out is looked at once more, and where it is not what stood there before, it is exchanged back (Refusal);
/// else its files are removed one by one, so that nothing is lost that was put in meanwhile. Nothing is left
/// behind when `fill` throws or the program is interrupted (SIGINT, SIGTERM, SIGHUP). Errors: Refusal;
/// std::system_error with the path; whatever `fill` throws.
void publish_folder(const Standing& standing, const std::function<void(const std::filesystem::path&)>& fill,
                    const Examine& examine = {});
/// Both in one step.
void publish_folder(const std::filesystem::path& target, bool replace,
                    const std::function<void(const std::filesystem::path&)>& fill);

}  // namespace luxdossier::seal
