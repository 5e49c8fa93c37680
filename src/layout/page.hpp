#pragma once

#include "model/dossier.hpp"
#include "report/document.hpp"

#include <cstddef>
#include <stdexcept>
#include <string>
#include <variant>
#include <vector>

namespace luxdossier::layout {

// A finished page: items at fixed places, lengths in millimetres from the top left corner. Writers only
// translate it.

struct Rgb {
    double r = 0, g = 0, b = 0;
};
struct Rect {
    double x = 0, y = 0, width = 0, height = 0;
};
struct Position {
    double x = 0, y = 0;
};

/// One line of text in one face; `box` is its logical extent, `baseline` its y. Several runs make a styled
/// line.
struct TextItem {
    std::string text;
    Rect box;
    double baseline = 0;
    double size_pt = 9.5;
    enum class Face { regular, italic, semibold, light } face = Face::regular;
    Rgb colour;
    bool tabular = false;  ///< figures of one width
    std::string role;      ///< "body", "table", "axis", "footer" ...: for tests and tags
};
struct PathItem {
    std::vector<Position> points;
    bool closed = false;
    double line_width_mm = 0.18;  ///< 0: no stroke
    Rgb stroke;
    bool filled = false;
    Rgb fill;
    std::vector<double> dashes_mm;
    std::string role;  ///< "data:NAME", "limit:ID", "tick", "mark:NAME" ...
};
struct LinkItem {
    Rect box;
    std::string anchor;
};
struct AnchorItem {
    std::string anchor;
    Position at;
};
/// Groups the items [first, last) of the page as a figure with alternative text.
struct FigureItem {
    std::size_t first = 0, last = 0;
    std::string alternative_text;
};
/// Clip for the following items until the matching end.
struct ClipBegin {
    Rect box;
};
struct ClipEnd {};

using Item = std::variant<TextItem, PathItem, LinkItem, AnchorItem, ClipBegin, ClipEnd>;
struct OutlineEntry {
    std::string title;
    int level = 1;
    std::size_t page = 0;
    double y = 0;
};

struct Page {
    double width = 210, height = 297;
    Rect text_area;
    std::vector<Item> items;
    std::vector<FigureItem> figures;
};
struct Pages {
    std::vector<Page> pages;
    std::vector<OutlineEntry> outline;
    std::string title, author, subject;
};

/// Text that cannot be printed: a character that no face holds, or bytes that are not UTF-8.
class UnprintableText : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};

enum class Paper { a4, letter };

/// Lays a document out on A4 or Letter, with the same margins. Throws UnprintableText naming a character that
/// no face holds.
[[nodiscard]] Pages lay_out(const report::Document& document, const model::Dossier& dossier,
                            Paper paper = Paper::a4);

/// The font files that lay_out and the PDF use, as settled when the program was built.
/// Errors: std::system_error (with the path) where one cannot be read.
[[nodiscard]] std::vector<std::string> face_files();

}  // namespace luxdossier::layout
