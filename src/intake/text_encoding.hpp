#pragma once

#include "diagnostics/diagnostic.hpp"

#include <string>
#include <string_view>

namespace luxdossier::intake {

/// Offset behind a UTF-8 byte order mark, 0 where none stands.
[[nodiscard]] std::size_t skip_bom(std::string_view text);

/// Offset of the first byte that is no text in UTF-8 (RFC 3629) or is NUL; the size of the text where all is
/// well.
[[nodiscard]] std::size_t valid_utf8_length(std::string_view text);

/// Adds one fault where the file is empty or not text in UTF-8, and says what it looks like.
bool check_is_text(const std::string& file, std::string_view text, diagnostics::Diagnostics& diagnostics);

}  // namespace luxdossier::intake
