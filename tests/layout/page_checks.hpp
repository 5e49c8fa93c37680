#pragma once

#include "layout/page.hpp"

#include <string>
#include <vector>

namespace luxdossier::test {

/// What is wrong with the places of texts: each fault names the page and the texts. Empty: no two text boxes
/// meet, and none leaves the text area (header and footer: the page).
[[nodiscard]] std::vector<std::string> faults_of(const layout::Pages& pages);

}  // namespace luxdossier::test
