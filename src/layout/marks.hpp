#pragma once

#include "layout/canvas.hpp"
#include "model/figure.hpp"
#include "model/verdict.hpp"

namespace luxdossier::layout {

/// The mark of an outcome, `size` wide, centred: pass a filled disc, conditional pass a half-filled disc, not
/// decided a ring, conditional fail a half-filled square, fail a filled square.
void draw_outcome(Canvas& canvas, model::Outcome outcome, Position centre, double size);

/// The mark of a series, 4 pt wide unless stated; hollow marks are white inside.
void draw_mark(Canvas& canvas, model::Mark mark, Position centre, Rgb colour, bool hollow, std::string role,
               double size = pt(4));

/// An arrow whose tip lies at the frame: the result lies beyond it. `direction` has length 1.
void draw_edge_arrow(Canvas& canvas, Position tip, Position direction, Rgb colour, std::string role);

}  // namespace luxdossier::layout
