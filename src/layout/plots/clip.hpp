#pragma once

#include "layout/page.hpp"

#include <vector>

namespace luxdossier::layout {

/// The parts of a polyline inside a box, cut at its edges, in order; a part has at least two points.
/// Source: Liang and Barsky, "A New Concept and Method for Line Clipping", ACM Trans. Graph. 3 (1984) 1-22.
[[nodiscard]] std::vector<std::vector<Position>> clipped(const std::vector<Position>& line, const Rect& box);

}  // namespace luxdossier::layout
