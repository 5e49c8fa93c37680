#pragma once

#include "layout/page.hpp"

#include <string>
#include <vector>

namespace luxdossier::layout {

/// Those of face_files() in which pages are set, in the same order.
[[nodiscard]] std::vector<std::string> used_faces(const Pages& pages);

}  // namespace luxdossier::layout
