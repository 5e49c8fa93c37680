#include "layout/plots/hatch.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace luxdossier::layout {

void hatch(Canvas& canvas, const std::vector<Position>& polygon, bool rising, double spacing_mm,
           double line_mm, Rgb colour, const std::string& role)
{
    if (polygon.size() < 3)
        return;
    // In the rotated frame (s along the lines, d across them) every hatch line has one d.
    constexpr double root_half = std::numbers::sqrt2 / 2;
    const auto along = [&](Position p) { return (rising ? p.x - p.y : p.x + p.y) * root_half; };
    const auto across = [&](Position p) { return (rising ? p.x + p.y : p.y - p.x) * root_half; };
    const auto back = [&](double s, double d) {
        return rising ? Position{(s + d) * root_half, (d - s) * root_half}
                      : Position{(s - d) * root_half, (s + d) * root_half};
    };
    double least = std::numeric_limits<double>::infinity(), greatest = -least;
    for (const auto& point : polygon) {
        least = std::min(least, across(point));
        greatest = std::max(greatest, across(point));
    }
    for (double d = std::ceil(least / spacing_mm) * spacing_mm; d < greatest; d += spacing_mm) {
        std::vector<double> cuts;
        for (std::size_t i = 0; i < polygon.size(); ++i) {
            const auto& a = polygon[i];
            const auto& b = polygon[(i + 1) % polygon.size()];
            const double from = across(a), to = across(b);
            if ((from <= d) != (to <= d))
                cuts.push_back(along(a) + (along(b) - along(a)) * (d - from) / (to - from));
        }
        std::ranges::sort(cuts);
        for (std::size_t i = 0; i + 1 < cuts.size(); i += 2) {
            if (cuts[i + 1] - cuts[i] > 0.05)
                canvas.line(back(cuts[i], d), back(cuts[i + 1], d), {line_mm, colour, {}}, role);
        }
    }
}

}  // namespace luxdossier::layout
