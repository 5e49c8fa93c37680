#include "layout/plots/limit_area.hpp"

#include "layout/plots/hatch.hpp"

namespace luxdossier::layout {

void draw_limit_area(Canvas& canvas, const LimitArea& area)
{
    if (area.line.size() < 2)
        return;
    auto outside = area.line;
    outside.insert(outside.end(), area.far_edge.begin(), area.far_edge.end());
    hatch(canvas, outside, true, pt(4), pt(0.3), grey, "hatch:" + area.id);
    if (area.acceptance.size() >= 2) {
        auto guard = area.line;
        guard.insert(guard.end(), area.acceptance.rbegin(), area.acceptance.rend());
        hatch(canvas, guard, false, pt(4), pt(0.3), grey, "guard:" + area.id);
        canvas.polyline(area.acceptance, {pt(0.5), grey, {0.5, 0.5}}, "acceptance:" + area.id);
    }
    canvas.polyline(area.line, {pt(0.8), ink, {}}, "limit:" + area.id);
}

}  // namespace luxdossier::layout
