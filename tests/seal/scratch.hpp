#pragma once

#include <cstdlib>
#include <filesystem>
#include <string>

namespace luxdossier::test {

/// A folder of its own for one test, removed at the end.
class Scratch {
public:
    Scratch()
    {
        auto name = (std::filesystem::temp_directory_path() / "luxdossier-test-XXXXXX").string();
        path_ = mkdtemp(name.data());
    }
    ~Scratch() { std::filesystem::remove_all(path_); }
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;
    [[nodiscard]] std::filesystem::path operator/(const std::string& name) const { return path_ / name; }
    [[nodiscard]] const std::filesystem::path& path() const { return path_; }

private:
    std::filesystem::path path_;
};

}  // namespace luxdossier::test
