#include "cli/evidence.hpp"

#include "cli/hashed_files.hpp"
#include "seal/seal.hpp"

#include <algorithm>
#include <set>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

namespace fs = std::filesystem;

/// First part of a path as a file system that does not tell capitals sees it.
std::string first_part(const std::string& path)
{
    const auto plain = fs::path(path).lexically_normal();
    auto part = plain.empty() ? std::string() : plain.begin()->string();
    std::ranges::transform(part, part.begin(), [](char c) {
        return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    });
    return part;
}

}  // namespace

std::string folder_of_kind(std::string_view kind, const std::vector<model::InputFile>& files)
{
    std::set<std::string> taken;
    for (const auto& file : files)
        taken.insert(first_part(file.path));
    std::string name(kind);
    for (std::size_t number = 2; taken.contains(name); ++number)
        name = fmt::format("{}-{}", kind, number);
    return name + "/";
}

void copy_inputs(const model::Qualification& qualification, const std::vector<Source>& sources,
                 const fs::path& dossier, std::vector<seal::ManifestEntry>& written)
{
    std::set<std::string> copied;
    for (std::size_t i = 0; i < qualification.files.size(); ++i) {
        const auto& file = qualification.files[i];
        const auto target = (fs::path("inputs") / file.path).lexically_normal();
        if (!copied.insert(target.generic_string()).second)
            continue;  // "./a.csv" and "a.csv": their bytes were compared when they were read
        const auto& source = sources.at(i);
        const auto sha256 = file.content.size() == file.size
                                ? seal::write_file_below(dossier, target, file.content)
                                : seal::write_file_in_pieces_below(dossier, target, [&](const auto& append) {
                                      source.files->copy(source.name, append);
                                  });
        written.push_back({target.generic_string(), sha256});
    }
}

}  // namespace luxdossier::cli
