#pragma once

#include "model/dossier.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::report {

/// Value of a template's placeholder such as "document.number": "not stated" where the header does not say;
/// absent where there is no such placeholder.
[[nodiscard]] std::optional<std::string> placeholder(const model::Dossier& dossier, std::string_view name);
[[nodiscard]] std::vector<std::string_view> placeholder_names();

}  // namespace luxdossier::report
