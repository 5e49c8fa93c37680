#pragma once

#include "layout/canvas.hpp"
#include "report/document.hpp"

namespace luxdossier::layout {

inline constexpr double strip_width = 34;

/// Draws a verdict's strip with its left end at x and its middle at y: the tolerance zone as an empty box,
/// the guard band in it hatched, the result as a dot with its expanded uncertainty; a result beyond the scale
/// ends in an arrow.
void draw_strip(Canvas& canvas, const report::StripCell& strip, Position left_middle,
                double width = strip_width);

}  // namespace luxdossier::layout
