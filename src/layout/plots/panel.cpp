#include "layout/plots/panel.hpp"

#include "layout/marks.hpp"
#include "layout/plots/clip.hpp"
#include "layout/plots/direct_labels.hpp"
#include "layout/plots/limit_area.hpp"
#include "layout/plots/plot.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::layout {
namespace {

constexpr double label_spacing = 3.5, minor_length = pt(1.8), span_end = 0.9;

TypeStyle label_style(const char* role, Rgb colour = ink)
{
    TypeStyle style = plot_label;
    style.role = role;
    style.colour = colour;
    return style;
}

double middle_shift()
{
    return pt(plot_label.size_pt * 0.36);
}
/// One panel in its place: scales first, then what is drawn on them.
class PanelPlot {
public:
    PanelPlot(Canvas& canvas, const model::Panel& panel, Scale x, Scale y, double label_width,
              PanelLabels written)
        : canvas_(canvas), panel_(panel), x_(std::move(x)), y_(std::move(y)), label_width_(label_width),
          written_(written)
    {
    }

    void draw()
    {
        draw_grid();
        for (const auto& limit : panel_.limits)
            draw_limit(limit);
        draw_band();
        for (const auto& reference : panel_.references)
            draw_reference(reference);
        for (const auto& series : panel_.series)
            draw_series(series);
        for (const auto& vertical : panel_.verticals)
            draw_vertical(vertical);
        draw_axes();
        draw_labels();
    }

private:
    [[nodiscard]] bool drawable(const model::Point& point) const
    {
        return std::isfinite(point.x) && std::isfinite(point.y) && (!x_.logarithmic || point.x > 0) &&
               (!y_.logarithmic || point.y > 0);
    }
    [[nodiscard]] Position place(const model::Point& point) const
    {
        return {x_.place(point.x), y_.place(point.y)};
    }
    [[nodiscard]] double place_y(double value) const { return y_.place(y_.clamped(value)); }

    // Grid only on the decades of logarithmic axes.
    void draw_grid()
    {
        const LineStyle style{pt(0.25), hairline, {}};
        for (const auto& tick : x_.ticks) {
            if (x_.logarithmic && !tick.minor)
                canvas_.line({x_.place(tick.value), y_.start}, {x_.place(tick.value), y_.end}, style, "grid");
        }
        for (const auto& tick : y_.ticks) {
            if (y_.logarithmic && !tick.minor)
                canvas_.line({x_.start, y_.place(tick.value)}, {x_.end, y_.place(tick.value)}, style, "grid");
        }
    }

    void draw_axes()
    {
        const LineStyle style{pt(0.5), ink, {}};
        canvas_.line({x_.start, y_.start}, {x_.end, y_.start}, style, "axis:x");
        canvas_.line({x_.start, y_.start}, {x_.start, y_.end}, style, "axis:y");
        for (const auto& tick : x_.ticks) {
            const double x = x_.place(tick.value);
            canvas_.line({x, y_.start}, {x, y_.start + (tick.minor ? minor_length : panel_tick_length)},
                         style, tick.minor ? "tick:x:minor" : "tick:x");
        }
        for (const auto& tick : y_.ticks) {
            const double y = y_.place(tick.value);
            canvas_.line({x_.start, y}, {x_.start - (tick.minor ? minor_length : panel_tick_length), y},
                         style, tick.minor ? "tick:y:minor" : "tick:y");
        }
        draw_tick_labels();
        if (written_.y_title)
            canvas_.text({x_.start - panel_tick_length, y_.end - 3.2 - lift_of(panel_)}, panel_.y.title,
                         label_style("axis-title"));
        if (written_.x)
            canvas_.text({x_.end, y_.start + panel_tick_length + 7.0}, panel_.x.title,
                         label_style("axis-title"), Canvas::Anchor::right);
        if (!panel_.title.empty()) {
            TypeStyle title = label_style("panel-title");
            title.face = TextItem::Face::semibold;
            const double room = x_.end - x_.start + panel_tick_length + label_width_;
            canvas_.text({x_.start - panel_tick_length, y_.end - 6.8 - lift_of(panel_)},
                         label_words(canvas_, DirectLabel{panel_.title}, title, room), title);
        }
    }

    // Ticks stand in the order of their rank: a label that meets one before it is left out.
    void draw_tick_labels()
    {
        constexpr double gap = 1.2, line = 3.4;
        const auto style = label_style("tick-label");
        std::vector<std::pair<double, double>> taken;  // from, to
        const auto take = [&](double from, double to) {
            const bool is_free = std::ranges::none_of(
                taken, [&](const auto& other) { return from < other.second && to > other.first; });
            if (is_free)
                taken.emplace_back(from, to);
            return is_free;
        };
        const std::size_t step = decade_step(style, gap);
        std::size_t decade = 0;
        for (const auto& tick : x_.ticks) {
            const double x = x_.place(tick.value), half = (canvas_.width(tick.label, style) + gap) / 2;
            if (step > 1 && !tick.label.empty() && decade++ % step != 0)
                continue;
            if (written_.x && !tick.label.empty() && take(x - half, x + half))
                canvas_.text({x, y_.start + panel_tick_length + 3.1}, tick.label, style,
                             Canvas::Anchor::centre);
        }
        taken.clear();
        for (const auto& tick : y_.ticks) {
            const double y = y_.place(tick.value);
            if (written_.y_ticks && !tick.label.empty() && take(y - line / 2, y + line / 2))
                canvas_.text({x_.start - panel_tick_length - 0.8, y + middle_shift()}, tick.label, style,
                             Canvas::Anchor::right);
        }
    }

    // Where the labels of neighbouring decades meet, every second or third is written.
    [[nodiscard]] std::size_t decade_step(const TypeStyle& style, double gap) const
    {
        if (!x_.logarithmic ||
            std::ranges::any_of(x_.ticks, [](const auto& tick) { return tick.minor && !tick.label.empty(); }))
            return 1;
        double widest = 0, spacing = std::abs(x_.end - x_.start), before = NAN;
        for (const auto& tick : x_.ticks) {
            if (tick.label.empty())
                continue;
            widest = std::max(widest, canvas_.width(tick.label, style) + gap);
            if (std::isfinite(before))
                spacing = std::min(spacing, std::abs(x_.place(tick.value) - before));
            before = x_.place(tick.value);
        }
        return spacing > 0 ? static_cast<std::size_t>(std::max(1.0, std::ceil(widest / spacing))) : 1;
    }

    // The part of a limit inside the plot, as places.
    [[nodiscard]] std::vector<Position> limit_places(const std::vector<model::Point>& points) const
    {
        std::vector<Position> places;
        for (const auto& point : points) {
            if (std::isfinite(point.y) && (!x_.logarithmic || point.x > 0) &&
                (!y_.logarithmic || point.y > 0))
                places.push_back({x_.place(x_.clamped(point.x)), place_y(point.y)});
        }
        return places;
    }

    void draw_limit(const model::LimitLine& limit)
    {
        LimitArea area{limit.id, limit_places(limit.points), {}, limit_places(limit.acceptance)};
        if (area.line.size() < 2)
            return;
        const double edge = limit.upper ? y_.end : y_.start;
        area.far_edge = {{area.line.back().x, edge}, {area.line.front().x, edge}};
        draw_limit_area(canvas_, area);
        labels_.push_back({limit.id, area.line.back().y, ink, area.line.back().x, 0, true});
    }

    void draw_band()
    {
        for (const auto& band : {panel_.band_lower, panel_.band_upper}) {
            if (band && y_.holds(*band))
                canvas_.line({x_.start, y_.place(*band)}, {x_.end, y_.place(*band)}, {pt(0.5), grey, {}},
                             "band");
        }
    }

    void draw_reference(const model::Reference& reference)
    {
        std::vector<Position> places;
        for (const auto& point : reference.points) {
            if (drawable(point))
                places.push_back(place(point));
        }
        if (places.empty())
            return;
        draw_clipped(places, {pt(0.7), grey, {1.2, 0.9}}, "reference:" + reference.name);
        if (reference.name.empty())
            return;  // the axis or the caption names it
        labels_.push_back({reference.name, std::clamp(places.back().y, y_.end, y_.start), grey,
                           std::min(places.back().x, x_.end), 0});
    }

    void draw_series(const model::Series& series)
    {
        // A series of spans alone is no uncertainty of a mark: in ink and with ends, apart from the grid.
        const bool is_spans = series.mark == model::Mark::none && series.stroke == model::Stroke::none;
        const Rgb colour = series.in_background ? background_data
                           : is_spans           ? ink
                                                : data_colour(series.colour);
        std::vector<Position> places;
        for (const auto& point : series.points) {
            if (drawable(point))
                places.push_back(place(point));
        }
        if (places.empty())
            return;
        if (series.stroke != model::Stroke::none)
            draw_clipped(places, {series.in_background ? pt(0.5) : pt(1.1), colour, dashes_of(series.stroke)},
                         "data:" + series.name);
        for (const auto& point : series.points) {
            if (!drawable(point) || !x_.holds(point.x) || !(point.u_lower > 0 || point.u_upper > 0))
                continue;
            // Clipped at the frame; one that lies beyond it altogether is told by its point's arrow.
            const double at = x_.place(point.x);
            const double from = place_y(point.y - point.u_lower), to = place_y(point.y + point.u_upper);
            if (from != to)
                canvas_.line({at, from}, {at, to}, {pt(0.7), colour, {}}, "whisker:" + series.name);
            for (const double end : {point.y - point.u_lower, point.y + point.u_upper})
                if (is_spans && y_.holds(end))
                    canvas_.line({at - span_end, place_y(end)}, {at + span_end, place_y(end)},
                                 {pt(0.7), colour, {}}, "span-end:" + series.name);
        }
        for (const auto& point : series.points) {
            if (!drawable(point) || !x_.holds(point.x))
                continue;
            if (y_.holds(point.y))
                draw_mark(canvas_, series.mark, place(point), colour, point.hollow, "mark:" + series.name);
            else if (series.mark != model::Mark::none)
                draw_edge_arrow(canvas_, {x_.place(point.x), place_y(point.y)},
                                {0, point.y > y_.to ? -1.0 : 1.0}, colour, "beyond:" + series.name);
        }
        if (written_.series && !series.in_background)
            labels_.push_back({series.name, std::clamp(places.back().y, y_.end, y_.start), colour,
                               std::min(places.back().x, x_.end), 0});
    }

    void draw_clipped(const std::vector<Position>& places, const LineStyle& style, const std::string& role)
    {
        const Rect frame{x_.start, y_.end, x_.end - x_.start, y_.start - y_.end};
        for (auto& part : clipped(places, frame))
            canvas_.polyline(std::move(part), style, role);
    }

    void draw_vertical(const model::MarkedX& vertical)
    {
        if (!x_.holds(vertical.x))
            return;
        const double x = x_.place(vertical.x);
        canvas_.line({x, y_.start}, {x, y_.end}, {pt(0.7), ink, {}}, "vertical");
        const auto style = label_style("vertical-label");
        const double width = canvas_.width(vertical.text, style);
        const bool right = x + 1.2 + width <= x_.end;
        canvas_.text({right ? x + 1.2 : std::max(x_.start, x - 1.2 - width), y_.end - 1.0}, vertical.text,
                     style);
    }

    // A dotted lead from the end of a line that stops short of the frame, then a leader to its name.
    void draw_labels()
    {
        const double left = x_.end + panel_label_gap, top = y_.end + 0.5, bottom = y_.start - 0.5;
        join_limits(labels_, static_cast<std::size_t>((bottom - top) / label_spacing) + 1);
        move_apart(labels_, label_spacing, top, bottom);
        for (const auto& label : labels_) {
            const auto style = label_style("direct-label", label.colour);
            canvas_.text({left + 1.4, label.y + middle_shift()},
                         label_words(canvas_, label, style, label_width_), style);
            if (label.limit && label.x + 1 < x_.end)
                canvas_.line({label.x + 0.5, label.wanted_y}, {x_.end, label.wanted_y},
                             {pt(0.3), label.colour, {0.3, 0.7}}, "leader");
            canvas_.line({std::max(label.x + 0.9, x_.end), label.wanted_y}, {left + 1.0, label.y},
                         {pt(0.3), label.colour, {}}, "leader");
        }
    }

    Canvas& canvas_;
    const model::Panel& panel_;
    Scale x_, y_;
    double label_width_;
    PanelLabels written_;
    std::vector<DirectLabel> labels_;
};
}  // namespace

double lift_of(const model::Panel& panel)
{
    return panel.verticals.empty() ? 0 : 1.8;
}

void draw_panel(Canvas& canvas, const model::Panel& panel, const Scale& x, const Scale& y, double label_width,
                PanelLabels written)
{
    PanelPlot(canvas, panel, x, y, label_width, written).draw();
}

}  // namespace luxdossier::layout
