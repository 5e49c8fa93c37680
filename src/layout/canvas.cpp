#include "layout/canvas.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <type_traits>

namespace luxdossier::layout {

Rect Canvas::text(Position baseline, std::string_view words, const TypeStyle& style, Anchor anchor)
{
    const double text_width = width(words, style);
    const auto vertical = fonts_->vertical(style.face, style.size_pt);
    const double shift = anchor == Anchor::left ? 0 : anchor == Anchor::centre ? text_width / 2 : text_width;
    TextItem item;
    item.text = std::string(words);
    item.box = {baseline.x - shift, baseline.y - vertical.ascent, text_width,
                vertical.ascent + vertical.descent};
    item.baseline = baseline.y;
    item.size_pt = style.size_pt;
    item.face = style.face;
    item.colour = style.colour;
    item.tabular = style.tabular;
    item.role = style.role;
    const Rect box = item.box;
    if (!words.empty())
        items_.push_back(std::move(item));
    return box;
}

void Canvas::line(Position from, Position to, const LineStyle& style, std::string role)
{
    polyline({from, to}, style, std::move(role));
}

void Canvas::polyline(std::vector<Position> points, const LineStyle& style, std::string role)
{
    if (points.size() < 2)
        return;
    PathItem path;
    path.points = std::move(points);
    path.line_width_mm = style.width_mm;
    path.stroke = style.colour;
    path.dashes_mm = style.dashes_mm;
    path.role = std::move(role);
    items_.push_back(std::move(path));
}

void Canvas::polygon(std::vector<Position> points, Rgb fill, std::string role)
{
    PathItem path;
    path.points = std::move(points);
    path.closed = true;
    path.line_width_mm = 0;
    path.filled = true;
    path.fill = fill;
    path.role = std::move(role);
    items_.push_back(std::move(path));
}

void Canvas::rectangle(const Rect& box, const LineStyle& style, std::string role)
{
    PathItem path;
    path.points = {{box.x, box.y},
                   {box.x + box.width, box.y},
                   {box.x + box.width, box.y + box.height},
                   {box.x, box.y + box.height}};
    path.closed = true;
    path.line_width_mm = style.width_mm;
    path.stroke = style.colour;
    path.role = std::move(role);
    items_.push_back(std::move(path));
}

void Canvas::circle(Position centre, double radius, const LineStyle& style, bool filled, std::string role)
{
    PathItem path;
    path.points = arc_points(centre, radius, 0, 360);
    path.points.pop_back();
    path.closed = true;
    path.line_width_mm = style.width_mm;
    path.stroke = style.colour;
    path.dashes_mm = style.dashes_mm;
    path.filled = filled;
    path.fill = style.colour;
    path.role = std::move(role);
    items_.push_back(std::move(path));
}

double Canvas::width(std::string_view words, const TypeStyle& style) const
{
    return fonts_->width(words, style.face, style.size_pt, style.tabular);
}

std::vector<Position> arc_points(Position centre, double radius, double from_degree, double to_degree)
{
    // Chords deviate from the arc by less than 2 micrometres.
    const double step =
        radius > 0.01 ? 2 * std::acos(1 - std::min(0.5, 0.002 / radius)) * 180 / std::numbers::pi : 45;
    const int count = std::max(8, static_cast<int>(std::ceil(std::abs(to_degree - from_degree) / step)));
    std::vector<Position> points;
    for (int i = 0; i <= count; ++i) {
        const double angle = (from_degree + (to_degree - from_degree) * i / count) * std::numbers::pi / 180;
        points.push_back({centre.x + radius * std::sin(angle), centre.y - radius * std::cos(angle)});
    }
    return points;
}

void translate(std::vector<Item>& items, double dx, double dy)
{
    const auto move_box = [&](Rect& box) {
        box.x += dx;
        box.y += dy;
    };
    for (auto& item : items) {
        std::visit(
            [&](auto& content) {
                using Content = std::decay_t<decltype(content)>;
                if constexpr (std::is_same_v<Content, TextItem>) {
                    move_box(content.box);
                    content.baseline += dy;
                } else if constexpr (std::is_same_v<Content, PathItem>) {
                    for (auto& point : content.points)
                        point = {point.x + dx, point.y + dy};
                } else if constexpr (std::is_same_v<Content, LinkItem> ||
                                     std::is_same_v<Content, ClipBegin>) {
                    move_box(content.box);
                } else if constexpr (std::is_same_v<Content, AnchorItem>) {
                    content.at = {content.at.x + dx, content.at.y + dy};
                }
            },
            item);
    }
}

}  // namespace luxdossier::layout
