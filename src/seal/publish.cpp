#include "seal/interruption.hpp"
#include "seal/manifest.hpp"
#include "seal/seal.hpp"

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <system_error>

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

namespace luxdossier::seal {
namespace {

namespace fs = std::filesystem;

std::system_error environment_error(const std::string& what, int error = errno)
{
    return {error, std::generic_category(), what};
}

fs::path without_trailing_slash(const fs::path& path)
{
    const auto normal = fs::absolute(path).lexically_normal();
    return normal.has_filename() ? normal : normal.parent_path();
}

/// Refuses what replacing would destroy: a folder that we did not write, and files that somebody put into it.
void check_is_our_dossier(const fs::path& target)
{
    const auto manifest = target / manifest_name;
    const auto entries =
        fs::is_regular_file(manifest) ? parse_manifest(read_file(manifest)) : std::vector<ManifestEntry>{};
    const auto lists = [&entries](std::string_view path) {
        return std::ranges::find(entries, path, &ManifestEntry::path) != entries.end();
    };
    if (!lists("record.json"))
        throw Refusal(fmt::format("{} is no dossier: it holds no {} that lists a record.json\n"
                                  "  advice: give another folder with --out, or move this one away yourself",
                                  target.string(), manifest_name));
    for (const auto& path : files_under(target))
        if (path != manifest_name && !lists(path))
            throw Refusal(
                fmt::format("{} holds {}, which its manifest does not list and which would be lost\n"
                            "  advice: move that file elsewhere, then run again",
                            target.string(), path));
}

void sync(const fs::path& path, int flags)
{
    const int descriptor = open(path.c_str(), flags | O_CLOEXEC);
    if (descriptor < 0)
        throw environment_error("cannot open " + path.string());
    const int result = fsync(descriptor);
    const int error = errno;
    close(descriptor);
    if (result != 0 && error != EINVAL)  // EINVAL: a file system without fsync
        throw environment_error("cannot write " + path.string() + " to the disk", error);
}

void sync_tree(const fs::path& folder)
{
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        sync(entry.path(), entry.is_directory() ? O_RDONLY | O_DIRECTORY : O_RDONLY);
    sync(folder, O_RDONLY | O_DIRECTORY);
}

fs::path make_staging_folder(const fs::path& target)
{
    auto name = (target.parent_path() / ("." + target.filename().string() + ".unfinished-XXXXXX")).string();
    if (mkdtemp(name.data()) == nullptr)
        throw environment_error("cannot make a folder beside " + target.string());
    const auto mask = umask(0);
    umask(mask);
    chmod(name.c_str(), 0777U & ~mask);  // mkdtemp keeps everybody else out
    return name;
}

void rename_to(const fs::path& staging, const fs::path& target, bool exchange)
{
    const unsigned flags = exchange ? RENAME_EXCHANGE : RENAME_NOREPLACE;
    if (renameat2(AT_FDCWD, staging.c_str(), AT_FDCWD, target.c_str(), flags) == 0)
        return;
    if (errno == EEXIST)
        throw Refusal(fmt::format("{} has appeared in the meantime", target.string()));
    throw environment_error(exchange ? "cannot exchange the new dossier and " + target.string()
                                     : "cannot give the new dossier its name " + target.string());
}

/// The folder that is filled; removed with all it holds unless published.
class Staging {
public:
    explicit Staging(const fs::path& target)
    {
        const auto lock = guard_.lock();  // no interruption between making the folder and knowing it
        path_ = make_staging_folder(target);
        guard_.set_folder(path_);
    }
    ~Staging()
    {
        const auto lock = guard_.lock();
        std::error_code ignored;  // nothing more can be done about it here
        fs::remove_all(path_, ignored);
        guard_.set_folder({});
    }
    Staging(const Staging&) = delete;
    Staging& operator=(const Staging&) = delete;

    [[nodiscard]] const fs::path& path() const { return path_; }
    /// After an exchange, what was there before lies in the staging folder and is removed with it.
    void publish(const fs::path& target, bool exchange)
    {
        const auto lock = guard_.lock();
        rename_to(path_, target, exchange);
    }

private:
    fs::path path_;
    InterruptionGuard guard_;
};

}  // namespace

void check_target(const fs::path& target, bool replace)
{
    const auto status = fs::symlink_status(target);
    if (!fs::exists(status))
        return;
    if (fs::is_symlink(status))
        throw Refusal(fmt::format("{} is a symbolic link, expected a folder or a new name\n"
                                  "  advice: give the folder that it points to",
                                  target.string()));
    if (!fs::is_directory(status))
        throw Refusal(
            fmt::format("{} is not a folder\n  advice: give another name with --out", target.string()));
    if (!replace)
        throw Refusal(
            fmt::format("{} is there already\n"
                        "  advice: add --replace to put the new dossier in its place, or give another name "
                        "with --out",
                        target.string()));
    check_is_our_dossier(target);
}

void publish_folder(const fs::path& target_as_given, bool replace,
                    const std::function<void(const fs::path&)>& fill)
{
    const auto target = without_trailing_slash(target_as_given);
    check_target(target, replace);
    Staging staging(target);
    fill(staging.path());
    sync_tree(staging.path());
    const bool exchange = replace && fs::exists(fs::symlink_status(target));
    staging.publish(target, exchange);
    sync(target.parent_path(), O_RDONLY | O_DIRECTORY);
}

}  // namespace luxdossier::seal
