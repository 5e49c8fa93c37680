#include "seal/manifest.hpp"

#include "seal/seal.hpp"

#include <algorithm>
#include <cerrno>
#include <map>
#include <system_error>

namespace luxdossier::seal {
namespace {

constexpr std::size_t digest_length = 64;
constexpr std::string_view escaped_characters = "\\\n\r";
constexpr std::string_view separator = "  ";

std::string escaped(std::string_view name)
{
    std::string text;
    for (const char c : name) {
        if (c == '\\')
            text += "\\\\";
        else if (c == '\n')
            text += "\\n";
        else if (c == '\r')
            text += "\\r";
        else
            text += c;
    }
    return text;
}

std::string unescaped(std::string_view text)
{
    std::string name;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] != '\\' || i + 1 == text.size()) {
            name += text[i];
            continue;
        }
        ++i;
        name += text[i] == 'n' ? '\n' : text[i] == 'r' ? '\r' : text[i];
    }
    return name;
}

bool is_digest(std::string_view text)
{
    return text.size() == digest_length &&
           text.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

}  // namespace

std::string manifest_text(const std::vector<ManifestEntry>& entries)
{
    std::string text;
    for (const auto& entry : entries) {
        if (entry.path.find_first_of(escaped_characters) != std::string::npos)
            text += '\\';
        text += entry.sha256;
        text += separator;
        text += escaped(entry.path);
        text += '\n';
    }
    return text;
}

std::vector<ManifestEntry> parse_manifest(std::string_view text)
{
    std::vector<ManifestEntry> entries;
    while (!text.empty()) {
        const auto end = text.find('\n');
        auto line = text.substr(0, end);
        text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
        const bool is_escaped = line.starts_with('\\');
        if (is_escaped)
            line.remove_prefix(1);
        if (line.size() <= digest_length + separator.size() || !is_digest(line.substr(0, digest_length)) ||
            line.substr(digest_length, separator.size()) != separator)
            return {};
        const auto name = line.substr(digest_length + separator.size());
        entries.push_back(
            {is_escaped ? unescaped(name) : std::string(name), std::string(line.substr(0, digest_length))});
    }
    return entries;
}

namespace {

std::system_error not_as_written(const std::filesystem::path& file)
{
    return {EIO, std::generic_category(), file.string() + " does not read back as it was written"};
}

}  // namespace

void walk(const std::filesystem::path& folder,
          const std::function<void(const std::filesystem::directory_entry&)>& visit)
{
    std::error_code error;
    std::filesystem::directory_iterator at(folder, error);
    std::vector<std::filesystem::path> below;
    while (!error && at != std::filesystem::directory_iterator()) {
        const auto status = at->symlink_status(error);
        if (error)
            break;
        visit(*at);
        if (std::filesystem::is_directory(status))
            below.push_back(at->path());
        at.increment(error);
    }
    if (error)
        throw std::system_error(error, "cannot read the folder " + folder.string());
    for (const auto& one : below)  // one folder is open at a time
        walk(one, visit);
}

std::vector<std::string> files_under(const std::filesystem::path& folder)
{
    std::vector<std::string> paths;
    walk(folder, [&](const std::filesystem::directory_entry& entry) {
        if (std::filesystem::is_regular_file(entry.symlink_status()))
            paths.push_back(entry.path().lexically_relative(folder).generic_string());
    });
    std::ranges::sort(paths);
    return paths;
}

namespace {

std::vector<ManifestEntry> entries_of(const std::filesystem::path& folder)
{
    std::vector<ManifestEntry> entries;
    for (const auto& path : files_under(folder))
        if (path != manifest_name)
            entries.push_back({path, sha256_hex_of_file(folder / path)});
    return entries;
}

void write_entries(const std::filesystem::path& folder, const std::vector<ManifestEntry>& entries)
{
    const auto file = folder / manifest_name;
    const auto text = manifest_text(entries);
    write_file(file, text);
    if (read_file(file) != text)
        throw not_as_written(file);
}

}  // namespace

void write_manifest(const std::filesystem::path& folder)
{
    write_entries(folder, entries_of(folder));
}

void write_manifest(const std::filesystem::path& folder, const std::vector<ManifestEntry>& written)
{
    const auto entries = entries_of(folder);
    std::map<std::string, std::string> expected, found;
    for (const auto& entry : written)
        expected[entry.path] = entry.sha256;
    for (const auto& entry : entries)
        found[entry.path] = entry.sha256;
    for (const auto* list : {&entries, &written})
        for (const auto& entry : *list)
            if (found[entry.path] != expected[entry.path])
                throw not_as_written(folder / entry.path);
    write_entries(folder, entries);
}

}  // namespace luxdossier::seal
