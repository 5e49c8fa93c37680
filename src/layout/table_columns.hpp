#pragma once

#include "layout/canvas.hpp"
#include "report/document.hpp"

#include <vector>

namespace luxdossier::layout {

/// Place of one column and, where numbers align, of the decimal mark in it.
struct ColumnPlace {
    double x = 0, width = 0;
    double decimal_x = 0;  ///< from the left edge of the column; only for decimal columns
};

struct TablePlaces {
    std::vector<ColumnPlace> columns;
    double width = 0;  ///< of the rules
};

inline constexpr double column_gap = 3.2;
inline constexpr double outcome_mark_size = 2.3;
inline constexpr double outcome_mark_room = 3.6;

/// Text of a decimal cell before and from the decimal point on. Cells without a digit have no mark: all is
/// before.
struct DecimalParts {
    report::Text before, after;
    bool numeric = false;
};
[[nodiscard]] DecimalParts decimal_parts(const report::Text& text);

/// Settles the widths: natural where the table fits, else text columns give way down to their widest word
/// and, if need be, below it (words are then broken). Numbers, strips and marks are never narrowed.
[[nodiscard]] TablePlaces place_columns(const Fonts& fonts, const report::Table& table, double width_mm);

}  // namespace luxdossier::layout
