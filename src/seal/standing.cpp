#include "seal/standing.hpp"

#include <algorithm>
#include <map>
#include <set>
#include <system_error>

#include <fmt/format.h>

namespace luxdossier::seal {
namespace {

namespace fs = std::filesystem;

bool lists_record(const std::vector<ManifestEntry>& entries)
{
    return std::ranges::find(entries, "record.json", &ManifestEntry::path) != entries.end();
}

/// Text of the manifest of a folder; empty where it has none that is a file.
std::string manifest_of(const fs::path& folder)
{
    const auto file = folder / manifest_name;
    std::error_code error;
    return fs::is_regular_file(fs::symlink_status(file, error)) ? read_file(file) : std::string();
}

[[noreturn]] void refuse(const std::string& shown, const std::string& what)
{
    throw Refusal(fmt::format("{} {}\n"
                              "  advice: to keep it, move the folder elsewhere; or write the new dossier "
                              "elsewhere with --out",
                              shown, what));
}

/// Every folder that a listed path goes through.
std::set<std::string> folders_of(const std::vector<ManifestEntry>& entries)
{
    std::set<std::string> folders;
    for (const auto& entry : entries)
        for (auto path = fs::path(entry.path).parent_path(); !path.empty(); path = path.parent_path())
            folders.insert(path.generic_string());
    return folders;
}

/// Names first: what would be lost is told before anything is read.
void check_names(const fs::path& folder, const std::string& shown, const std::vector<ManifestEntry>& entries)
{
    std::map<std::string, bool> there;
    for (const auto& entry : entries)
        there.emplace(entry.path, false);
    const auto folders = folders_of(entries);
    walk(folder, [&](const fs::directory_entry& entry) {
        const auto path = entry.path().lexically_relative(folder).generic_string();
        if (path == manifest_name)
            return;
        const auto status = entry.symlink_status();
        if (fs::is_directory(status) && folders.contains(path))
            return;
        const auto listed = there.find(path);
        const bool is_file = fs::is_regular_file(status);
        if (is_file && listed != there.end())
            listed->second = true;
        else if (is_file)
            throw Refusal(
                fmt::format("{} holds {}, which its manifest does not list and which would be lost\n"
                            "  advice: move that file elsewhere, then run again",
                            shown, path));
        else
            refuse(shown, fmt::format("holds the {} {}, which its manifest does not list and which would be "
                                      "lost",
                                      fs::is_symlink(status)     ? "link"
                                      : fs::is_directory(status) ? "folder"
                                                                 : "special file",
                                      path));
    });
    for (const auto& [path, found] : there)
        if (!found)
            refuse(shown,
                   fmt::format("lacks {}, which its manifest lists: it is not as it was sealed", path));
}

/// A sealed dossier is no place for another one.
void check_not_inside_dossier(const fs::path& target)
{
    std::error_code error;
    const auto real = fs::weakly_canonical(target, error);
    const auto& start = error ? target : real;
    for (auto folder = start.parent_path(); folder.has_relative_path(); folder = folder.parent_path())
        if (lists_record(parse_manifest(manifest_of(folder))))
            throw Refusal(fmt::format("{} would lie inside the dossier {}, which is sealed\n"
                                      "  advice: give a folder elsewhere with --out",
                                      target.string(), folder.string()));
}

fs::path without_trailing_slash(const fs::path& path)
{
    const auto normal = fs::absolute(path).lexically_normal();
    return normal.has_filename() ? normal : normal.parent_path();
}

}  // namespace

Sealed check_sealed(const fs::path& folder, const std::string& shown)
{
    const auto text = manifest_of(folder);
    Sealed sealed{parse_manifest(text), sha256_hex(text)};
    if (!lists_record(sealed.entries))
        throw Refusal(fmt::format("{} is no dossier: it holds no {} that lists a record.json\n"
                                  "  advice: give another folder with --out, or move this one away yourself",
                                  shown, manifest_name));
    check_names(folder, shown, sealed.entries);
    for (const auto& entry : sealed.entries)
        if (sha256_hex_of_file(folder / entry.path) != entry.sha256)
            refuse(shown, fmt::format("holds {}, which was changed since it was sealed and would be lost",
                                      entry.path));
    return sealed;
}

bool remove_sealed(const fs::path& folder, const Sealed& sealed)
{
    std::error_code error;
    for (const auto& entry : sealed.entries)
        fs::remove(folder / entry.path, error);
    fs::remove(folder / manifest_name, error);
    const auto folders = folders_of(sealed.entries);
    for (auto path = folders.rbegin(); path != folders.rend(); ++path)  // a folder sorts before what it holds
        fs::remove(folder / *path, error);
    fs::remove(folder, error);
    return !fs::exists(fs::symlink_status(folder, error));
}

Standing check_target(const fs::path& target_as_given, bool replace, const Examine& examine)
{
    const auto target = without_trailing_slash(target_as_given);
    const auto& shown = target_as_given.string();
    check_not_inside_dossier(target);
    const auto status = fs::symlink_status(target);
    if (!fs::exists(status))
        return {target, ""};
    if (fs::is_symlink(status))
        throw Refusal(fmt::format("{} is a symbolic link, expected a folder or a new name\n"
                                  "  advice: give the folder that it points to",
                                  shown));
    if (!fs::is_directory(status))
        throw Refusal(fmt::format("{} is not a folder\n  advice: give another name with --out", shown));
    if (!replace)
        throw Refusal(
            fmt::format("{} is there already\n"
                        "  advice: add --replace to put the new dossier in its place, or give another name "
                        "with --out",
                        shown));
    const auto sealed = check_sealed(target, shown);
    if (examine)
        examine(target, shown);
    return {target, sealed.manifest_sha256};
}

}  // namespace luxdossier::seal
