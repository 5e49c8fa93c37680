#pragma once

#include "model/figure.hpp"
#include "workbook/chart.hpp"
#include "workbook/term.hpp"

#include <utility>
#include <vector>

namespace luxdossier::workbook {

/// Points of a series, x and y. A term without text is a plain number; NaN parts a line.
using Cells = std::vector<std::pair<Term, Term>>;

[[nodiscard]] inline Term plain(double value)
{
    return {"", value};
}
[[nodiscard]] Cells as_cells(const std::vector<model::Point>& points);
/// From the least to the greatest y of a panel's data; empty where there are none.
[[nodiscard]] Cells vertical_line(const model::Panel& panel, double x);
/// Appends a line from y - U to y + U, then a gap: the library knows no error bars of unlike length.
void add_whisker(Cells& whiskers, const Term& x, const Term& y, const Term& u, double u_lower);

// Grids of polar plots: x is the angle in degree, y the radius.

[[nodiscard]] Cells ring(double radius);
/// Spokes every 30 degrees with the names of their angles.
[[nodiscard]] Cells spokes(double radius, std::vector<PointLabel>& labels);
/// A short bar across the half-response ring, as long as its uncertainty, with its words.
[[nodiscard]] Cells half_angle(const model::MarkedAngle& angle);

}  // namespace luxdossier::workbook
