#include "layout/strip.hpp"

#include "layout/plots/hatch.hpp"

#include <algorithm>

namespace luxdossier::layout {
namespace {

constexpr double half_height = 1.25;

// The scale shows half a tolerance beyond each wall; with one wall, 1.4 tolerances inside and 0.6 outside.
struct Scale {
    double from, to, x, width;
    [[nodiscard]] double place(double value) const
    {
        return x + width * (std::clamp(value, from, to) - from) / (to - from);
    }
};

Scale scale_of(const report::StripCell& strip, double x, double width)
{
    if (strip.lower && strip.upper)
        return {-0.5, 1.5, x, width};
    return strip.upper ? Scale{-0.4, 1.6, x, width} : Scale{-0.6, 1.4, x, width};
}

void draw_guard(Canvas& canvas, double from, double to, double y)
{
    if (to - from < 0.02)
        return;
    hatch(canvas,
          {{from, y - half_height}, {to, y - half_height}, {to, y + half_height}, {from, y + half_height}},
          false, pt(2.2), pt(0.3), grey, "strip-guard");
}

void draw_arrow(Canvas& canvas, double x, double y, bool right)
{
    const double back = right ? -1.5 : 1.5;
    canvas.polygon({{x, y}, {x + back, y - 0.8}, {x + back, y + 0.8}}, ink, "strip-arrow");
}

void draw_zone(Canvas& canvas, const report::StripCell& strip, const Scale& scale, double y)
{
    const double left = strip.lower ? scale.place(*strip.lower) : scale.x;
    const double right = strip.upper ? scale.place(*strip.upper) : scale.x + scale.width;
    const double middle = (left + right) / 2;
    // Guard bands that meet leave no acceptance zone: all of the tolerance is hatched.
    if (strip.lower && strip.acceptance_lower)
        draw_guard(
            canvas, left,
            std::min(scale.place(*strip.acceptance_lower), strip.upper ? std::max(middle, left) : right), y);
    if (strip.upper && strip.acceptance_upper)
        draw_guard(canvas, std::max(scale.place(*strip.acceptance_upper), strip.lower ? middle : left), right,
                   y);
    const LineStyle wall{pt(0.8), ink, {}}, edge{pt(0.5), grey, {}};
    canvas.line({left, y - half_height}, {right, y - half_height}, edge, "strip-edge");
    canvas.line({left, y + half_height}, {right, y + half_height}, edge, "strip-edge");
    if (strip.lower)
        canvas.line({left, y - half_height}, {left, y + half_height}, wall, "strip-wall:lower");
    if (strip.upper)
        canvas.line({right, y - half_height}, {right, y + half_height}, wall, "strip-wall:upper");
}

}  // namespace

void draw_strip(Canvas& canvas, const report::StripCell& strip, Position left_middle, double width)
{
    const auto [x, y] = left_middle;
    const Scale scale = scale_of(strip, x, width);
    canvas.line({x, y}, {x + width, y}, {pt(0.3), hairline, {}}, "strip-axis");
    draw_zone(canvas, strip, scale, y);
    if (!strip.value)
        return;
    if (strip.whisker_lower && strip.whisker_upper) {
        const double from = scale.place(*strip.whisker_lower), to = scale.place(*strip.whisker_upper);
        if (to > from)
            canvas.line({from, y}, {to, y}, {pt(0.9), ink, {}}, "strip-whisker");
    }
    if (*strip.value < scale.from || *strip.value > scale.to)
        draw_arrow(canvas, *strip.value > scale.to ? x + width : x, y, *strip.value > scale.to);
    else
        canvas.circle({scale.place(*strip.value), y}, 0.75, {0, ink, {}}, true, "strip-value");
}

}  // namespace luxdossier::layout
