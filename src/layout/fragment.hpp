#pragma once

#include "layout/canvas.hpp"

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::layout {

/// A piece of the flow that is never split: a line, a row, a figure. Its items have the left edge of the text
/// and its own top as origin.
struct Fragment {
    double height = 0;
    double space_before = 0;  ///< dropped at the top of a page
    std::vector<Item> items;
    std::vector<FigureItem> figures;
    bool keep_with_next = false;
    bool page_before = false;
    bool own_page = false;             ///< the page after it starts anew
    std::optional<std::size_t> table;  ///< rows of a table that repeat its head on the next page
    std::optional<std::size_t>
        group;            ///< of TableHead::groups that it belongs to, and repeats below the head
    std::string outline;  ///< title for the outline; empty: none
    int outline_level = 1;
    bool movable = false;  ///< a figure: what follows may come before it where it does not fit
    bool stays = false;    ///< a heading of a chapter or section: no figure passes it
};

/// What a broken table repeats on each page.
struct TableHead {
    std::vector<Fragment> repeated;
    std::vector<Fragment> groups;  ///< names of groups of rows, "continued"
    double width = 0;              ///< of its hairlines
};

struct Flow {
    std::vector<Fragment> fragments;
    std::vector<TableHead> heads;
};

/// Fills pages from the top of the text area; figures never split, headings stay with what follows.
[[nodiscard]] Pages paginate(const Flow& flow, const PageGeometry& geometry);

}  // namespace luxdossier::layout
