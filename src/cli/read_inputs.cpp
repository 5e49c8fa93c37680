#include "cli/stages.hpp"

#include "cli/evidence.hpp"
#include "cli/hashed_files.hpp"
#include "intake/intake.hpp"
#include "metrics/metrics.hpp"

#include <algorithm>
#include <system_error>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

namespace fs = std::filesystem;

/// Where a limits file lies and how messages and evidence call it.
struct LimitsFile {
    fs::path on_disk;  ///< canonical
    std::string name;  ///< as messages call it
    bool is_beside_header = false;
};

std::optional<LimitsFile> find_limits(const fs::path& folder, const std::string& stated)
{
    const bool is_stated = !stated.empty();
    const fs::path path = is_stated ? fs::path(stated) : folder / "limits.json";
    std::error_code error;
    if (!is_stated && !fs::exists(fs::symlink_status(path, error)))
        return std::nullopt;
    const auto on_disk = fs::canonical(path, error);
    if (error == std::errc::no_such_file_or_directory)
        throw InputFault(
            fmt::format("found no file {}, expected a limits file\n"
                        "  advice: check the path after --limits; leave it out for a report without "
                        "verdicts\n",
                        path.string()));
    if (error)
        throw std::system_error(error, "cannot read " + path.string());
    const auto root = fs::canonical(folder);
    if (on_disk.parent_path() == root)
        return LimitsFile{on_disk, on_disk.filename().string(), true};
    return LimitsFile{on_disk, stated, false};
}

std::string content_of(const LimitsFile& limits, const intake::Files& files)
{
    const auto answer = files.read(limits.on_disk.filename().string());
    if (answer.state == intake::Files::State::unreadable)
        throw std::system_error(std::make_error_code(std::errc::permission_denied),
                                "cannot read " + limits.on_disk.string());
    if (answer.state != intake::Files::State::regular || answer.pieces)
        throw InputFault(fmt::format("{} is {}, expected a limits file in JSON\n", limits.name,
                                     answer.pieces ? "larger than 64 MiB" : "no regular file"));
    return answer.content;
}

fs::path existing_folder(const std::string& folder)
{
    std::error_code error;
    if (!fs::is_directory(folder, error) && (!error || error == std::errc::no_such_file_or_directory))
        throw InputFault(fmt::format("found no folder {}, expected a qualification folder\n"
                                     "  advice: give the folder that holds qualification.json\n",
                                     folder));
    return folder;
}

/// Files of the limits join the evidence; a file that is there already under its name is not listed twice.
/// Returns what the evidence calls the limits file.
std::string add_evidence(Inputs& inputs, const LimitsFile& limits,
                         const std::shared_ptr<const HashedFiles>& from, std::vector<model::InputFile> read)
{
    auto& files = inputs.qualification.files;
    const auto below = limits.is_beside_header ? std::string() : folder_of_kind("limits", files);
    for (auto& file : read) {
        const bool is_limits = &file == &read.front();
        const auto name = is_limits ? limits.on_disk.filename().string() : file.path;
        file.path = below + name;
        const auto same = std::ranges::find(files, file.path, &model::InputFile::path);
        if (same != files.end()) {
            same->role += ", " + file.role;
            continue;
        }
        inputs.sources.push_back({from, name});
        files.push_back(std::move(file));
    }
    return below + limits.on_disk.filename().string();
}

}  // namespace

std::optional<Inputs> read_inputs(const std::string& folder, const std::string& stated_limits,
                                  diagnostics::Diagnostics& diagnostics)
{
    Inputs inputs;
    inputs.folder = existing_folder(folder);
    const auto files = std::make_shared<const HashedFiles>(inputs.folder);
    const auto limits = find_limits(inputs.folder, stated_limits);
    const auto limits_files = limits && !limits->is_beside_header
                                  ? std::make_shared<const HashedFiles>(limits->on_disk.parent_path())
                                  : files;
    const auto content = limits ? content_of(*limits, *limits_files) : std::string{};

    auto qualification = intake::read_qualification(*files, diagnostics, metrics::catalogue());
    if (!qualification) {
        if (limits)
            intake::check_limits(limits->name, content, *limits_files, metrics::catalogue(), diagnostics);
        return std::nullopt;
    }
    inputs.qualification = std::move(*qualification);
    for (const auto& file : inputs.qualification.files)
        inputs.sources.push_back({files, file.path});
    if (limits) {
        std::vector<model::InputFile> read;
        inputs.limits = intake::read_limits(limits->name, content, *limits_files, inputs.qualification,
                                            metrics::catalogue(inputs.qualification), read, diagnostics);
        if (!inputs.limits)
            return std::nullopt;
        inputs.limits->file = add_evidence(inputs, *limits, limits_files, std::move(read));
    }
    for (std::size_t i = 0; i < inputs.qualification.files.size(); ++i) {
        auto& file = inputs.qualification.files[i];
        const auto read = inputs.sources[i].files->fingerprint(inputs.sources[i].name);
        file.sha256 = read.sha256;
        file.size = read.bytes;
    }
    return inputs;
}

Inputs read_or_fail(const std::string& folder, const std::string& limits)
{
    diagnostics::Diagnostics faults;
    auto inputs = read_inputs(folder, limits, faults);
    if (inputs && !faults.has_errors())
        return std::move(*inputs);
    std::string text;
    for (const auto& fault : faults.all())
        text += diagnostics::render(fault);
    throw InputFault(text);
}

}  // namespace luxdossier::cli
