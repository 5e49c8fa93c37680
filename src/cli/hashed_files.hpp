#pragma once

#include "intake/intake.hpp"

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::cli {

/// Files of a folder on disk whose bytes are hashed while they are read, so that what is sealed is what was
/// evaluated: a file that is read again with other bytes is a fault.
class HashedFiles final : public intake::Files {
public:
    /// Errors: std::system_error where the folder cannot be read.
    explicit HashedFiles(const std::filesystem::path& folder);
    ~HashedFiles() override;
    HashedFiles(const HashedFiles&) = delete;
    HashedFiles& operator=(const HashedFiles&) = delete;

    /// Errors: InputFault where the file has other bytes than at an earlier reading.
    [[nodiscard]] Answer read(std::string_view path) const override;

    struct Fingerprint {
        std::string sha256;
        std::size_t bytes = 0;
        bool operator==(const Fingerprint&) const = default;
    };
    /// Of the bytes that were read of a file; what nobody read to its end is read on. Errors: InputFault
    /// where two readings gave other bytes; std::system_error.
    [[nodiscard]] Fingerprint fingerprint(std::string_view path) const;
    /// Reads a file once more, piece by piece, as the copy that is sealed. Errors: InputFault where its bytes
    /// are not those that were evaluated.
    void copy(std::string_view path, const std::function<void(std::string_view)>& append) const;

private:
    class Stream;
    void settle(std::string_view path, Fingerprint found) const;
    std::unique_ptr<intake::Files> files_;
    mutable std::map<std::string, Fingerprint> known_;  ///< by the path in its plain form
    mutable std::map<std::string, std::vector<std::shared_ptr<Stream>>> streams_;
};

}  // namespace luxdossier::cli
