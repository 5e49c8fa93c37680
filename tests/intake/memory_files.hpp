#pragma once

#include "intake/intake.hpp"

#include <algorithm>
#include <cstring>
#include <map>
#include <string>

namespace luxdossier::test {

/// Files of a folder that exists in memory only.
class MemoryFiles final : public intake::Files {
public:
    MemoryFiles() = default;
    MemoryFiles(std::initializer_list<std::pair<const std::string, std::string>> files) : files_(files) {}
    void set(const std::string& path, std::string content) { files_[path] = std::move(content); }
    [[nodiscard]] Answer read(std::string_view path) const override
    {
        const auto found = files_.find(std::string(path));
        if (found == files_.end())
            return {};
        return {State::regular, found->second, nullptr, found->second.size()};
    }

private:
    std::map<std::string, std::string> files_;
};

/// A file that comes in pieces of a few bytes.
class SmallPieces final : public intake::Pieces {
public:
    SmallPieces(std::string content, std::size_t piece) : content_(std::move(content)), piece_(piece) {}
    std::size_t read(std::span<char> buffer) override
    {
        const auto taken = std::min({piece_, buffer.size(), content_.size() - at_});
        std::memcpy(buffer.data(), content_.data() + at_, taken);
        at_ += taken;
        return taken;
    }

private:
    std::string content_;
    std::size_t piece_;
    std::size_t at_ = 0;
};

[[nodiscard]] inline std::string all_messages(const diagnostics::Diagnostics& found)
{
    std::string text;
    for (const auto& one : found.all())
        text += diagnostics::render(one);
    return text;
}

}  // namespace luxdossier::test
