#pragma once

#include "layout/page.hpp"

#include <vector>

namespace luxdossier::pdf {

/// What Cairo cannot write into a tagged PDF: the language, the title as window title, the tab order and the
/// alternative text of each figure. The bytes depend on the arguments alone.
/// Errors: std::logic_error where the structure does not hold one Figure element for each figure of the
/// pages.
[[nodiscard]] std::vector<unsigned char> finished(const std::vector<unsigned char>& drawn,
                                                  const layout::Pages& pages);

}  // namespace luxdossier::pdf
