#pragma once

#include "layout/fonts.hpp"
#include "layout/style.hpp"

#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::layout {

struct LineStyle {
    double width_mm = hairline_mm;
    Rgb colour = ink;
    std::vector<double> dashes_mm = {};
};

/// Collects items at places in its own coordinates (millimetres, y downwards).
class Canvas {
public:
    explicit Canvas(const Fonts& fonts) : fonts_(&fonts) {}

    enum class Anchor { left, centre, right };
    /// One run of text at a baseline; returns its box.
    Rect text(Position baseline, std::string_view words, const TypeStyle& style,
              Anchor anchor = Anchor::left);
    void line(Position from, Position to, const LineStyle& style, std::string role = {});
    void polyline(std::vector<Position> points, const LineStyle& style, std::string role = {});
    void polygon(std::vector<Position> points, Rgb fill, std::string role = {});
    void rectangle(const Rect& box, const LineStyle& style, std::string role = {});
    void circle(Position centre, double radius, const LineStyle& style, bool filled, std::string role = {});
    void add(Item item) { items_.push_back(std::move(item)); }

    [[nodiscard]] double width(std::string_view words, const TypeStyle& style) const;
    [[nodiscard]] const Fonts& fonts() const { return *fonts_; }
    [[nodiscard]] std::vector<Item>& items() { return items_; }

private:
    const Fonts* fonts_;
    std::vector<Item> items_;
};

/// Points of a circle or arc as a closed or open polyline (angles in degree, clockwise from up).
[[nodiscard]] std::vector<Position> arc_points(Position centre, double radius, double from_degree,
                                               double to_degree);

/// Moves items by (dx, dy).
void translate(std::vector<Item>& items, double dx, double dy);

}  // namespace luxdossier::layout
