#pragma once

#include "report/document.hpp"

#include <string_view>

namespace luxdossier::report {

/// Plain text as a run of one style; empty text gives no span.
[[nodiscard]] Text plain(std::string_view text);
[[nodiscard]] Text styled(std::string_view text, Style style);
/// Appends `more` to `text`.
void append(Text& text, Text more);
/// The text without its styles.
[[nodiscard]] std::string plain_text(const Text& text);

/// A quantity symbol from plain notation: "C_common" is an italic C with the upright subscript "common",
/// "f1'" an italic f with subscript 1 and a prime, "rho" the Greek letter. Source: ISO 80000-1:2009, 7.1
/// (symbols of quantities italic, subscripts that are words or numbers upright).
[[nodiscard]] Text symbol_text(std::string_view symbol);

/// A sentence in which words of symbol notation ("R_0", or a capital alone such as "the factor C") are set as
/// symbols and a hyphen between spaces as U+2212. "A" that opens a sentence stays a word.
[[nodiscard]] Text prose_text(std::string_view sentence);

/// A formula from plain notation: symbols as above, "*" as a thin space, "x" between factors as ×, "-" as
/// U+2212, "^2" as a superscript, function names and words upright.
[[nodiscard]] Text formula_text(std::string_view formula);

}  // namespace luxdossier::report
