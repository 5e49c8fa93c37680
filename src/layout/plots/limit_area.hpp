#pragma once

#include "layout/canvas.hpp"

#include <string>
#include <vector>

namespace luxdossier::layout {

/// A tolerance limit as it is drawn: its line, what lies outside it, and the acceptance limit inside it.
struct LimitArea {
    std::string id;
    std::vector<Position> line;        ///< at least two places, or nothing is drawn
    std::vector<Position> far_edge;    ///< frame beyond the limit, from the line's end back to its start
    std::vector<Position> acceptance;  ///< empty: no guard band
};

/// Line in ink, hatch at 45 degrees outside the tolerance, guard band at 135 degrees.
void draw_limit_area(Canvas& canvas, const LimitArea& area);

}  // namespace luxdossier::layout
