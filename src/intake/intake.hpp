#pragma once

#include "diagnostics/diagnostic.hpp"
#include "model/limits.hpp"
#include "model/qualification.hpp"

#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

/// A file in pieces, for logs too large to be held whole.
class Pieces {
public:
    virtual ~Pieces() = default;
    /// Fills the buffer as far as the file reaches; 0 at its end. Throws std::system_error where reading
    /// fails.
    virtual std::size_t read(std::span<char> buffer) = 0;
};

/// Files above this size are read in pieces and not kept in model::InputFile.
inline constexpr std::size_t kept_whole_bytes = std::size_t{64} << 20U;

/// Where intake gets its bytes: the disk in cli/, memory in tests.
class Files {
public:
    virtual ~Files() = default;
    enum class State { regular, missing, not_regular, outside, unreadable };
    struct Answer {
        State state = State::missing;
        std::string content;
        std::shared_ptr<Pieces> pieces;  ///< instead of content, above kept_whole_bytes
        std::size_t size = 0;            ///< of the file in bytes, where it comes in pieces
    };
    /// `path` is relative to the qualification folder. `outside`: it leaves the folder, also by a symbolic
    /// link.
    [[nodiscard]] virtual Answer read(std::string_view path) const = 0;
};
/// Files of a folder on disk. Throws std::system_error (with the path) only where the folder itself cannot be
/// read.
[[nodiscard]] std::unique_ptr<Files> folder_on_disk(const std::filesystem::path& folder);

/// Reads `qualification.json` and every file it names. All faults are appended; empty where there was an
/// error. Stated models must have other ids than `metrics`.
[[nodiscard]] std::optional<model::Qualification>
read_qualification(const Files& files, diagnostics::Diagnostics& diagnostics,
                   const model::MetricCatalogue& metrics = {});

/// Reads a file of user-stated measurement models alone (luxdossier/models/1): a qualification that holds
/// nothing but its models and evaluation settings. All faults are appended; empty where there was an error.
[[nodiscard]] std::optional<model::Qualification>
read_models_file(std::string_view name, std::string_view content, diagnostics::Diagnostics& diagnostics);

/// Reads a limits file. `name` is how messages call it; masks are read from `files` (the folder of the limits
/// file). Ids are checked against the qualification, metrics and their conditions against the catalogue. Mask
/// files are appended to `read_files`, the limits file first.
[[nodiscard]] std::optional<model::Limits>
read_limits(std::string_view name, std::string_view content, const Files& files,
            const model::Qualification& qualification, const model::MetricCatalogue& catalogue,
            std::vector<model::InputFile>& read_files, diagnostics::Diagnostics& diagnostics);

/// Finds the faults of a limits file beside a qualification that could not be read, so that one run tells
/// all: ids and levels are taken as they stand.
void check_limits(std::string_view name, std::string_view content, const Files& files,
                  const model::MetricCatalogue& catalogue, diagnostics::Diagnostics& diagnostics);

}  // namespace luxdossier::intake
