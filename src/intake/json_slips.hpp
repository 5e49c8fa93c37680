#pragma once

#include "intake/json_source.hpp"

namespace luxdossier::intake {

/// Where a parser stopped: up to `cursor` all was right.
struct JsonStop {
    std::size_t cursor = 0;
    std::string pointer;               ///< of the innermost open object or array
    bool number_out_of_range = false;  ///< the next token is a number that no double holds
    bool behind_the_end = false;       ///< the whole value had been read
};

/// Why a text is no JSON, in the user's words: what stands first behind the place where the parser stopped.
[[nodiscard]] diagnostics::Diagnostic explain_json_slip(const JsonText& source, const JsonStop& stop);

}  // namespace luxdossier::intake
