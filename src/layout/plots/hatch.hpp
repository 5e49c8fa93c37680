#pragma once

#include "layout/canvas.hpp"

#include <vector>

namespace luxdossier::layout {

/// Hatches a polygon with parallel lines that are cut at its edges (even-odd), so that no clip is needed.
/// Lines lie on one lattice for the whole page: neighbouring areas join. `rising`: 45 degrees, else 135.
void hatch(Canvas& canvas, const std::vector<Position>& polygon, bool rising, double spacing_mm,
           double line_mm, Rgb colour, const std::string& role);

}  // namespace luxdossier::layout
