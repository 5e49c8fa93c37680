#include "layout/plots/clip.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <utility>

namespace luxdossier::layout {
namespace {

/// Shares of the way from a to b where it enters and leaves the box.
std::optional<std::pair<double, double>> inside(Position a, Position b, const Rect& box)
{
    const double dx = b.x - a.x, dy = b.y - a.y;
    const std::array<std::pair<double, double>, 4> sides{{{-dx, a.x - box.x},
                                                          {dx, box.x + box.width - a.x},
                                                          {-dy, a.y - box.y},
                                                          {dy, box.y + box.height - a.y}}};
    double enter = 0, leave = 1;
    for (const auto& [toward, room] : sides) {
        if (toward == 0) {
            if (room < 0)
                return std::nullopt;
        } else if (toward < 0) {
            enter = std::max(enter, room / toward);
        } else {
            leave = std::min(leave, room / toward);
        }
    }
    if (enter > leave)
        return std::nullopt;
    return std::pair(enter, leave);
}

}  // namespace

std::vector<std::vector<Position>> clipped(const std::vector<Position>& line, const Rect& box)
{
    std::vector<std::vector<Position>> parts;
    bool open = false;
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
        const auto a = line[i], b = line[i + 1];
        const auto span = inside(a, b, box);
        if (!span) {
            open = false;
            continue;
        }
        const auto at = [&](double share) {
            return Position{a.x + (b.x - a.x) * share, a.y + (b.y - a.y) * share};
        };
        if (!open || span->first > 0)
            parts.push_back({span->first > 0 ? at(span->first) : a});
        parts.back().push_back(span->second < 1 ? at(span->second) : b);
        open = span->second >= 1;
    }
    return parts;
}

}  // namespace luxdossier::layout
