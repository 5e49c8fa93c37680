#pragma once

#include "layout/page.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::pdf {

/// What Cairo cannot write into a tagged PDF: the language, the title as window title, the tab order and the
/// alternative text of each figure. The bytes depend on the arguments alone.
/// Errors: std::logic_error where the structure does not hold one Figure element for each figure of the
/// pages; std::system_error where what was drawn is no whole PDF.
[[nodiscard]] std::vector<unsigned char> finished(const std::vector<unsigned char>& drawn,
                                                  const layout::Pages& pages);

/// Reads a PDF to its last object. Errors: std::system_error where it is not whole or has another number of
/// pages; `name` is what the message calls it.
void check_whole(std::string_view bytes, std::size_t pages, const std::string& name);

}  // namespace luxdossier::pdf
