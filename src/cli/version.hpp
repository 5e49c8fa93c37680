#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace luxdossier::cli {

/// Version of the program, from the build.
[[nodiscard]] std::string_view program_version();
/// Libraries in use with their versions, as they tell them when the program runs where they can.
[[nodiscard]] std::vector<std::pair<std::string, std::string>> library_versions();
/// Both, as --version prints them.
[[nodiscard]] std::string version_text();
/// System and machine: "Linux x86_64".
[[nodiscard]] std::string platform();

}  // namespace luxdossier::cli
