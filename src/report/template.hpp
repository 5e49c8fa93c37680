#pragma once

#include "report/document.hpp"

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace luxdossier::report {

// A template is a CommonMark file: headings, paragraphs, lists, block quotes (cautions), thematic breaks (new
// page), and images whose address names what is inserted: ![caption](plot:warm_up), ![](table:verdicts),
// ![](chapter:*),
// ![](part:cover). {document.number} and the like are placeholders in any text; {{ and }} stand for braces.

struct HeadingPiece {
    int level = 1;
    Text text;
};
struct ParagraphPiece {
    Text text;
};
struct BulletsPiece {
    std::vector<Text> items;
};
struct CautionPiece {
    std::string title;
    Text text;
};  ///< a quote; bold words at its start are the title
struct BreakPiece {};
struct InsertPiece {
    std::string kind, name, caption;
};

struct Piece {
    std::size_t line = 0;  ///< in the template, from 1
    std::variant<HeadingPiece, ParagraphPiece, BulletsPiece, CautionPiece, BreakPiece, InsertPiece> content;
};

/// Value of a placeholder; absent where there is no such placeholder.
using Lookup = std::function<std::optional<std::string>(std::string_view name)>;

/// Reads a template; faults are appended with `name` as file.
[[nodiscard]] std::vector<Piece> read_template(std::string_view name, const std::string& text,
                                               const Lookup& lookup,
                                               std::vector<diagnostics::Diagnostic>& faults);

}  // namespace luxdossier::report
