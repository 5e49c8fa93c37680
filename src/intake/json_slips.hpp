#pragma once

#include "intake/json_source.hpp"

namespace luxdossier::intake {

/// Why a text is no JSON, in the user's words: the first token behind `cursor`, up to which all was right.
[[nodiscard]] diagnostics::Diagnostic explain_json_slip(const JsonText& source, std::size_t cursor,
                                                        std::string pointer, bool number_out_of_range);

}  // namespace luxdossier::intake
