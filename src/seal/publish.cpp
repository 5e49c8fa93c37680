#include "seal/interruption.hpp"
#include "seal/manifest.hpp"
#include "seal/seal.hpp"
#include "seal/standing.hpp"

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
    walk(folder, [](const fs::directory_entry& entry) {
        sync(entry.path(), entry.is_directory() ? O_RDONLY | O_DIRECTORY : O_RDONLY);
    });
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
        throw Refusal(fmt::format("{} has appeared in the meantime\n"
                                  "  advice: give another name with --out",
                                  target.string()));
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
        if (!path_.empty())
            fs::remove_all(path_, ignored);
        guard_.set_folder({});
    }
    Staging(const Staging&) = delete;
    Staging& operator=(const Staging&) = delete;

    [[nodiscard]] const fs::path& path() const { return path_; }
    /// An interruption waits until it is settled which of two dossiers stands at the target.
    void publish(const Standing& standing, const Examine& examine)
    {
        const auto lock = guard_.lock();
        if (standing.manifest_sha256.empty()) {
            rename_to(path_, standing.target, false);
            forget();
        } else {
            exchange(standing, examine);
        }
    }

private:
    void forget()
    {
        guard_.set_folder({});
        path_.clear();
    }

    void exchange(const Standing& standing, const Examine& examine)
    {
        rename_to(path_, standing.target, true);
        Sealed older;
        try {
            older = check_brought_out(standing, examine);
        } catch (...) {
            exchange_back(standing.target);
            throw;
        }
        const auto out = path_;
        forget();
        if (!remove_sealed(out, older))
            throw environment_error(fmt::format("the new dossier stands at {}, but files were put into the "
                                                "older one while it was replaced: they are kept in {}",
                                                standing.target.string(), out.string()),
                                    ENOTEMPTY);
    }

    /// What stood at the target lies in the staging folder now: is it still what it was?
    [[nodiscard]] Sealed check_brought_out(const Standing& standing, const Examine& examine) const
    {
        const auto shown = standing.target.string();
        auto sealed = check_sealed(path_, shown);
        if (sealed.manifest_sha256 != standing.manifest_sha256)
            throw Refusal(fmt::format("{} is another dossier than when the work began\n"
                                      "  advice: look at it, then run again",
                                      shown));
        if (examine)
            examine(path_, shown);
        return sealed;
    }

    void exchange_back(const fs::path& target)
    {
        try {
            rename_to(path_, target, true);
        } catch (const std::exception& failure) {
            const auto out = path_;
            forget();
            throw environment_error(
                fmt::format("{}; what stood there lies in {}", failure.what(), out.string()), EIO);
        }
    }

    fs::path path_;
    InterruptionGuard guard_;
};

}  // namespace

void publish_folder(const Standing& standing, const std::function<void(const fs::path&)>& fill,
                    const Examine& examine)
{
    Staging staging(standing.target);
    fill(staging.path());
    sync_tree(staging.path());
    staging.publish(standing, examine);
    sync(standing.target.parent_path(), O_RDONLY | O_DIRECTORY);
}

void publish_folder(const fs::path& target, bool replace, const std::function<void(const fs::path&)>& fill)
{
    publish_folder(check_target(target, replace), fill);
}

}  // namespace luxdossier::seal
