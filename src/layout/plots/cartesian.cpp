#include "layout/marks.hpp"
#include "layout/plots/clip.hpp"
#include "layout/plots/direct_labels.hpp"
#include "layout/plots/limit_area.hpp"
#include "layout/plots/plot.hpp"
#include "layout/plots/scale.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace luxdossier::layout {
namespace {

constexpr double full_height = 76, multiple_height = 52, stacked_upper = 46, stacked_lower = 54,
                 half_width_is_lower_by = 6;
constexpr std::size_t most_direct_labels = 6;
constexpr double label_gap = 1.6, label_spacing = 3.5, tick_length = pt(3), minor_length = pt(1.8);
constexpr double widest_label = 42;

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

// The names of verticals stand above the plot, below the title of its axis.
double lift_of(const model::Panel& panel)
{
    return panel.verticals.empty() ? 0 : 3.6;
}

void extend(Extent& x, Extent& y, const model::Panel& panel)
{
    for (const auto& series : panel.series) {
        for (const auto& point : series.points) {
            x.add(point.x);
            y.add(point.y - point.u_lower);
            y.add(point.y + point.u_upper);
            y.add(point.y);
        }
    }
    for (const auto& limit : panel.limits) {
        for (const auto& point : limit.points) {
            x.add(point.x);
            y.add(point.y);
        }
    }
    for (const auto& reference : panel.references) {
        for (const auto& point : reference.points)
            y.add(point.y);
    }
    for (const auto& band : {panel.band_lower, panel.band_upper}) {
        if (band)
            y.add(*band);
    }
}

/// One panel in its place: scales first, then what is drawn on them.
class PanelPlot {
public:
    PanelPlot(Canvas& canvas, const model::Panel& panel, Scale x, Scale y, double label_width,
              bool name_series, bool x_labels)
        : canvas_(canvas), panel_(panel), x_(std::move(x)), y_(std::move(y)), label_width_(label_width),
          name_series_(name_series), x_labels_(x_labels)
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
            canvas_.line({x, y_.start}, {x, y_.start + (tick.minor ? minor_length : tick_length)}, style,
                         tick.minor ? "tick:x:minor" : "tick:x");
        }
        for (const auto& tick : y_.ticks) {
            const double y = y_.place(tick.value);
            canvas_.line({x_.start, y}, {x_.start - (tick.minor ? minor_length : tick_length), y}, style,
                         tick.minor ? "tick:y:minor" : "tick:y");
        }
        draw_tick_labels();
        canvas_.text({x_.start - tick_length, y_.end - 3.2 - lift_of(panel_)}, panel_.y.title,
                     label_style("axis-title"));
        if (x_labels_)
            canvas_.text({x_.end, y_.start + tick_length + 7.0}, panel_.x.title, label_style("axis-title"),
                         Canvas::Anchor::right);
        if (!panel_.title.empty()) {
            TypeStyle title = label_style("panel-title");
            title.face = TextItem::Face::semibold;
            canvas_.text({x_.start - tick_length, y_.end - 6.8 - lift_of(panel_)}, panel_.title, title);
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
        for (const auto& tick : x_.ticks) {
            const double x = x_.place(tick.value), half = (canvas_.width(tick.label, style) + gap) / 2;
            if (x_labels_ && !tick.label.empty() && take(x - half, x + half))
                canvas_.text({x, y_.start + tick_length + 3.1}, tick.label, style, Canvas::Anchor::centre);
        }
        taken.clear();
        for (const auto& tick : y_.ticks) {
            const double y = y_.place(tick.value);
            if (!tick.label.empty() && take(y - line / 2, y + line / 2))
                canvas_.text({x_.start - tick_length - 0.8, y + middle_shift()}, tick.label, style,
                             Canvas::Anchor::right);
        }
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
        labels_.push_back({reference.name, std::clamp(places.back().y, y_.end, y_.start), grey,
                           std::min(places.back().x, x_.end), 0});
    }

    void draw_series(const model::Series& series)
    {
        const Rgb colour = data_colour(series.colour);
        std::vector<Position> places;
        for (const auto& point : series.points) {
            if (drawable(point))
                places.push_back(place(point));
        }
        if (places.empty())
            return;
        if (series.stroke != model::Stroke::none)
            draw_clipped(places, {pt(1.1), colour, dashes_of(series.stroke)}, "data:" + series.name);
        for (const auto& point : series.points) {
            if (!drawable(point) || !x_.holds(point.x) || !(point.u_lower > 0 || point.u_upper > 0))
                continue;
            // Clipped at the frame; one that lies beyond it altogether is told by its point's arrow.
            const double from = place_y(point.y - point.u_lower), to = place_y(point.y + point.u_upper);
            if (from != to)
                canvas_.line({x_.place(point.x), from}, {x_.place(point.x), to}, {pt(0.7), colour, {}},
                             "whisker:" + series.name);
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
        if (name_series_)
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
        const double left = x_.end + label_gap, top = y_.end + 0.5, bottom = y_.start - 0.5;
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
    bool name_series_, x_labels_;
    std::vector<DirectLabel> labels_;
};

double widest_tick(const Canvas& canvas, const Scale& scale)
{
    double widest = 0;
    for (const auto& tick : scale.ticks)
        widest = std::max(widest, canvas.width(tick.label, plot_label));
    return widest;
}

double right_margin(const Canvas& canvas, const model::Panel& panel, bool name_series)
{
    double widest = 0;
    const auto consider = [&](const std::string& name) {
        widest = std::max(widest, std::min(widest_label, canvas.width(name, plot_label)));
    };
    std::map<double, double> joined;  // names that share a place stand on one line
    for (const auto& limit : panel.limits) {
        if (!limit.points.empty())
            joined[limit.points.back().y] += canvas.width(limit.id + ", ", plot_label);
    }
    for (const auto& [y, width] : joined)
        widest = std::max(widest, std::min(widest_label, width));
    for (const auto& reference : panel.references)
        consider(reference.name);
    for (const auto& series : panel.series) {
        if (name_series)
            consider(series.name);
    }
    return widest > 0 ? widest + label_gap + 1.6 : 4;
}

/// More series than stand beside their lines, or a name too long to stand there.
bool needs_legend(const Canvas& canvas, const model::Panel& panel)
{
    return panel.series.size() > most_direct_labels ||
           (panel.series.size() > 1 && std::ranges::any_of(panel.series, [&](const auto& series) {
                return canvas.width(series.name, plot_label) > widest_label;
            }));
}

struct Grid {
    std::size_t columns = 1, rows = 1;
    double cell_width = 0;
    std::vector<double> row_heights;
};

Grid grid_of(const model::Figure& figure, double width_mm)
{
    Grid grid;
    const std::size_t count = figure.panels.size();
    if (figure.kind == model::FigureKind::stacked) {
        grid.rows = count;
        for (std::size_t i = 0; i < count; ++i)
            grid.row_heights.push_back((i + 1 < count ? stacked_upper : stacked_lower) -
                                       (figure.half_width ? half_width_is_lower_by : 0));
    } else {
        grid.columns = count <= 1 ? 1 : count == 2 || count == 4 ? 2 : 3;
        grid.rows = (count + grid.columns - 1) / grid.columns;
        const double height = count > 1 ? multiple_height : figure.half_width ? 70 : full_height;
        grid.row_heights.assign(grid.rows, height);
    }
    constexpr double gutter = 5;
    grid.cell_width =
        (width_mm - gutter * static_cast<double>(grid.columns - 1)) / static_cast<double>(grid.columns);
    return grid;
}

}  // namespace

double draw_cartesian(Canvas& canvas, const model::Figure& figure, double width_mm)
{
    if (figure.panels.empty())
        return 0;
    const Grid grid = grid_of(figure, width_mm);
    const bool stacked = figure.kind == model::FigureKind::stacked;
    // Panels share the x axis; small multiples their y axis as well.
    Extent shared_x(figure.panels.front().x.logarithmic), unused(false);
    for (const auto& panel : figure.panels)
        extend(shared_x, unused, panel);
    std::vector<Scale> ys;
    double left = 0, right = 0;
    bool legend = false;
    for (const auto& panel : figure.panels)
        legend = legend || needs_legend(canvas, panel);
    const auto names = [&](const model::Panel& panel) {
        // One series that the panel's or the figure's title names already needs no label of its own.
        return !legend && panel.series.size() > 1;
    };
    const int y_ticks = stacked || grid.rows > 1 || grid.columns > 1 ? 5 : 6;
    for (const auto& panel : figure.panels) {
        Extent x(panel.x.logarithmic), y(panel.y.logarithmic);
        extend(x, y, panel);
        ys.push_back(make_scale(panel.y, y, y_ticks));
        left = std::max(left, widest_tick(canvas, ys.back()) + tick_length + 1.2);
        right = std::max(right, right_margin(canvas, panel, names(panel)));
    }
    double top = 0;
    for (std::size_t r = 0; r < grid.rows; ++r) {
        for (std::size_t c = 0; c < grid.columns; ++c) {
            const std::size_t i = r * grid.columns + c;
            if (i >= figure.panels.size())
                break;
            const auto& panel = figure.panels[i];
            const bool x_labels = !stacked || i + 1 == figure.panels.size();
            Scale x = make_scale(panel.x, shared_x, grid.columns > 1 ? 4 : 8);
            Scale y = ys[i];
            const double cell_left = (grid.cell_width + 5) * static_cast<double>(c);
            x.start = cell_left + left;
            x.end = cell_left + grid.cell_width - right;
            y.start = top + grid.row_heights[r] - (x_labels ? 9.5 : 3);
            y.end = top + (panel.title.empty() ? 6.5 : 10) + lift_of(panel);
            PanelPlot(canvas, panel, x, y, right - label_gap - 1.5, names(panel), x_labels).draw();
        }
        top += grid.row_heights[r];
    }
    if (legend)
        top += draw_legend(canvas, figure.panels.front().series, {0, top}, width_mm);
    return top;
}

}  // namespace luxdossier::layout
