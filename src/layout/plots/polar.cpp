#include "layout/marks.hpp"
#include "layout/plots/direct_labels.hpp"
#include "layout/plots/plot.hpp"
#include "report/numbers.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace luxdossier::layout {
namespace {

constexpr double ring_step = 0.25;
constexpr double spoke_gap = 1.6;
constexpr double spacing = 3.5;

double radians(double degree)
{
    return degree * std::numbers::pi / 180;
}

std::string spoke_name(int degree)
{
    return report::number_text(degree, 0) + "°";
}

/// 0 degree up, angles clockwise; radius in proportion to the response.
class PolarPlot {
public:
    PolarPlot(Canvas& canvas, const model::Figure& figure, double width_mm) : canvas_(canvas), figure_(figure)
    {
        const auto& panel = figure.panels.front();
        double greatest = 1, widest_angle = 90;
        for (const auto& series : panel.series) {
            for (const auto& point : series.points) {
                greatest = std::max(greatest, point.y);
                widest_angle = std::max(widest_angle, std::abs(point.x));
            }
        }
        // Noise above 1 at the reference is no reason for a further ring.
        rings_ = static_cast<int>(std::ceil((greatest - 0.05) / ring_step));
        // Beside the outer ring there is room for the longest name of a spoke.
        label_room_ = spoke_gap + canvas.width(spoke_name(-90), plot_label) + 0.2;
        radius_ = width_mm / 2 - label_room_;
        below_ = std::max(2.0, -radius_ * std::cos(radians(std::min(widest_angle, 180.0))));
        widest_ = widest_angle;
        centre_ = {width_mm / 2, label_room_ + radius_};
    }

    double draw()
    {
        draw_rings();
        draw_spokes();
        const auto& panel = figure_.panels.front();
        for (const auto& reference : panel.references)
            draw_curve(reference.points, {pt(0.7), grey, {1.2, 0.9}}, "reference:" + reference.name);
        for (const auto& limit : panel.limits)
            draw_limit(limit);
        for (const auto& series : panel.series)
            draw_series(series);
        draw_angles();
        double y = centre_.y + std::max(below_, 4.0) + 3;
        auto keys = keys_of(panel.series);
        for (const auto& reference : panel.references)
            keys.push_back({reference.name, model::Mark::none, grey, true, pt(0.7), {1.2, 0.9}});
        for (const auto& limit : panel.limits) {
            if (std::ranges::find(keys, limit.id, &LegendKey::name) == keys.end())
                keys.push_back({limit.id, model::Mark::none, ink, true, pt(0.8), {}});
        }
        y += draw_legend(canvas_, keys, {centre_.x - radius_, y}, 2 * radius_);
        return y;
    }

private:
    [[nodiscard]] Position place(double angle_degree, double response) const
    {
        const double r = radius_ * std::max(0.0, response) / (rings_ * ring_step);
        return {centre_.x + r * std::sin(radians(angle_degree)),
                centre_.y - r * std::cos(radians(angle_degree))};
    }

    void draw_rings()
    {
        TypeStyle label = plot_label;
        label.role = "tick-label";
        label.colour = grey;
        for (int i = 1; i <= rings_; ++i) {
            const double response = i * ring_step, r = radius_ * i / rings_;
            const bool half = std::abs(response - 0.5) < 1e-9;
            canvas_.polyline(arc_points(centre_, r, -widest_, widest_),
                             {half ? pt(0.6) : pt(0.25), half ? ink : hairline, {}},
                             half ? "ring:half" : "ring");
        }
        // Rings that go on below the line of 90 degree make room for their values.
        for (int i = 1; i <= rings_; ++i)
            draw_cleared({centre_.x + radius_ * i / rings_, centre_.y + 3.6},
                         report::stated_text(i * ring_step), label, Canvas::Anchor::centre);
    }

    // A text on white.
    void draw_cleared(Position at, const std::string& words, const TypeStyle& style, Canvas::Anchor anchor)
    {
        constexpr double air = 0.4, above = 2.4, below = 0.7;
        const double width = canvas_.width(words, style);
        const double left = anchor == Canvas::Anchor::left    ? at.x
                            : anchor == Canvas::Anchor::right ? at.x - width
                                                              : at.x - width / 2;
        canvas_.polygon({{left - air, at.y - above},
                         {left + width + air, at.y - above},
                         {left + width + air, at.y + below},
                         {left - air, at.y + below}},
                        white, "label-ground");
        canvas_.text(at, words, style, anchor);
    }

    // How far from the centre line anything is drawn at this height, on one side.
    [[nodiscard]] double reach(double y, bool right) const
    {
        constexpr double band = 3;
        double farthest = 0;
        const auto look_at = [&](const std::vector<model::Point>& points) {
            for (std::size_t i = 0; i + 1 < points.size(); ++i) {
                for (const double share : {0.0, 0.25, 0.5, 0.75, 1.0}) {
                    const auto &a = points[i], &b = points[i + 1];
                    const auto at = place(a.x + share * (b.x - a.x), a.y + share * (b.y - a.y));
                    const double out = right ? at.x - centre_.x : centre_.x - at.x;
                    if (std::abs(at.y - y) < band && std::isfinite(out))
                        farthest = std::max(farthest, out);
                }
            }
        };
        const auto& panel = figure_.panels.front();
        for (const auto& series : panel.series)
            look_at(series.points);
        for (const auto& reference : panel.references)
            look_at(reference.points);
        for (const auto& limit : panel.limits)
            look_at(limit.points);
        return farthest;
    }

    void draw_spokes()
    {
        TypeStyle label = plot_label;
        label.role = "tick-label";
        // A limit above the outer ring lifts the name of the upright spoke.
        double lifted = 0;
        for (const auto& limit : figure_.panels.front().limits) {
            for (const auto& point : limit.points) {
                if (std::abs(point.x) < 15 && std::isfinite(point.y))
                    lifted = std::max(lifted, radius_ * (point.y / (rings_ * ring_step) - 1));
            }
        }
        lifted = std::max(0.0, std::min(lifted, label_room_ - spoke_gap - 3));
        for (int angle = -90; angle <= 90; angle += 30) {
            const double sine = std::sin(radians(angle)), cosine = std::cos(radians(angle));
            canvas_.line(centre_, {centre_.x + radius_ * sine, centre_.y - radius_ * cosine},
                         {pt(0.25), hairline, {}}, "spoke");
            const Position at{centre_.x + (radius_ + spoke_gap) * sine,
                              centre_.y - (radius_ + spoke_gap) * cosine + (angle == 0 ? -lifted : 1)};
            const auto anchor = angle < 0   ? Canvas::Anchor::right
                                : angle > 0 ? Canvas::Anchor::left
                                            : Canvas::Anchor::centre;
            canvas_.text(at, spoke_name(angle), label, anchor);
        }
    }

    void draw_curve(const std::vector<model::Point>& points, const LineStyle& style, const std::string& role)
    {
        std::vector<Position> places;
        for (const auto& point : points) {
            if (std::isfinite(point.y) && point.y <= rings_ * ring_step * 1.06)
                places.push_back(place(point.x, point.y));
        }
        canvas_.polyline(std::move(places), style, role);
    }

    void draw_limit(const model::LimitLine& limit)
    {
        draw_curve(limit.points, {pt(0.8), ink, {}}, "limit:" + limit.id);
        draw_curve(limit.acceptance, {pt(0.5), grey, {0.5, 0.5}}, "acceptance:" + limit.id);
    }

    void draw_series(const model::Series& series)
    {
        const Rgb colour = data_colour(series.colour);
        if (series.stroke != model::Stroke::none)
            draw_curve(series.points, {pt(1.1), colour, dashes_of(series.stroke)}, "data:" + series.name);
        for (const auto& point : series.points) {
            if (std::isfinite(point.y))
                draw_mark(canvas_, series.mark, place(point.x, point.y), colour, point.hollow,
                          "mark:" + series.name, pt(3.2));
        }
    }

    // Bars across the 50 % ring as long as U, the values beside them, moved apart on each side.
    void draw_angles()
    {
        for (const bool right : {false, true}) {
            std::vector<DirectLabel> labels;
            for (const auto& angle : figure_.angles) {
                if ((angle.angle_degree > 0) != right)
                    continue;
                const auto& panel = figure_.panels.front();
                const bool known =
                    angle.series >= 0 && static_cast<std::size_t>(angle.series) < panel.series.size();
                const Rgb colour =
                    known ? data_colour(panel.series[static_cast<std::size_t>(angle.series)].colour) : ink;
                const double half_ring = radius_ * 0.5 / (rings_ * ring_step);
                canvas_.polyline(arc_points(centre_, half_ring, angle.angle_degree - angle.u_degree,
                                            angle.angle_degree + angle.u_degree),
                                 {pt(2.6), colour, {}}, "half-angle");
                const auto at = place(angle.angle_degree, 0.5);
                labels.push_back({angle.text, at.y, colour, at.x, 0});
            }
            if (labels.empty())
                continue;
            move_apart(labels, spacing, label_room_, centre_.y - 2);
            double out = 0;
            for (const auto& label : labels)
                out = std::max({out, std::abs(label.x - centre_.x) + 3, reach(label.y, right) + 2});
            for (const auto& label : labels) {
                TypeStyle style = plot_label;
                style.role = "half-angle-label";
                style.colour = label.colour;
                // Never beyond the figure, even where curves reach that far.
                const double most = centre_.x - canvas_.width(label.text, style) - 0.2;
                const double x = centre_.x + (right ? 1 : -1) * std::min(out, most);
                draw_cleared({x, label.y + 1}, label.text, style,
                             right ? Canvas::Anchor::left : Canvas::Anchor::right);
                canvas_.line({label.x, label.wanted_y}, {x - (right ? 0.4 : -0.4), label.y},
                             {pt(0.3), label.colour, {}}, "leader");
            }
        }
    }

    Canvas& canvas_;
    const model::Figure& figure_;
    int rings_ = 4;
    double label_room_ = 0, radius_ = 0, below_ = 0, widest_ = 90;
    Position centre_;
};

}  // namespace

double draw_polar(Canvas& canvas, const model::Figure& figure, double width_mm)
{
    if (figure.panels.empty())
        return 0;
    return PolarPlot(canvas, figure, width_mm).draw();
}

}  // namespace luxdossier::layout
