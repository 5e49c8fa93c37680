#pragma once

#include "layout/lines.hpp"
#include "model/figure.hpp"

#include <string>
#include <vector>

namespace luxdossier::layout {

/// Rows of a figure with their names at the left, wrapped: figures of dots, bars and strips.
struct NamedRows {
    std::vector<std::vector<Line>> names;
    std::vector<double> edges{0};  ///< tops of the rows and the bottom of the last
    double name_width = 0;         ///< of the widest line

    [[nodiscard]] double height() const { return edges.back(); }
    [[nodiscard]] double middle(std::size_t row) const { return (edges[row] + edges[row + 1]) / 2; }
};

/// Names take at most 0.42 of the width, 0.6 where many long ones stand below each other.
[[nodiscard]] NamedRows place_rows(const Fonts& fonts, const std::vector<std::string>& names,
                                   double width_mm);
/// Draws the name of a row, its lines ending (or, `left`, starting) at `x`, around `middle`.
void draw_name(Canvas& canvas, const NamedRows& rows, std::size_t row, double x, double middle,
               bool left = false);

/// A figure of rows that is higher than a page as several that are not, "1 of 3" in their titles; dots keep
/// one axis of values. Other figures and those that fit come back as they are.
[[nodiscard]] std::vector<model::Figure> split_rows(const Fonts& fonts, const model::Figure& figure,
                                                    double width_mm);

}  // namespace luxdossier::layout
