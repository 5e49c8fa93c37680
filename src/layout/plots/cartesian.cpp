#include "layout/marks.hpp"
#include "layout/plots/clip.hpp"
#include "layout/plots/direct_labels.hpp"
#include "layout/plots/limit_area.hpp"
#include "layout/plots/plot.hpp"
#include "layout/plots/scale.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::layout {
namespace {

constexpr double full_height = 76, half_height = 70, stacked_upper = 46, stacked_lower = 54;
constexpr double half_width_is_lower_by = 6;                          // a panel of two above each other
constexpr double multiple_height = 52, multiple_above_height = 45.5;  // with and without labels below
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

/// What a panel writes itself; the rest its neighbours write for it.
struct Labels {
    bool series = false, x = true, y_title = true, y_ticks = true;
};

/// One panel in its place: scales first, then what is drawn on them.
class PanelPlot {
public:
    PanelPlot(Canvas& canvas, const model::Panel& panel, Scale x, Scale y, double label_width, Labels written)
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
            canvas_.line({x, y_.start}, {x, y_.start + (tick.minor ? minor_length : tick_length)}, style,
                         tick.minor ? "tick:x:minor" : "tick:x");
        }
        for (const auto& tick : y_.ticks) {
            const double y = y_.place(tick.value);
            canvas_.line({x_.start, y}, {x_.start - (tick.minor ? minor_length : tick_length), y}, style,
                         tick.minor ? "tick:y:minor" : "tick:y");
        }
        draw_tick_labels();
        if (written_.y_title)
            canvas_.text({x_.start - tick_length, y_.end - 3.2 - lift_of(panel_)}, panel_.y.title,
                         label_style("axis-title"));
        if (written_.x)
            canvas_.text({x_.end, y_.start + tick_length + 7.0}, panel_.x.title, label_style("axis-title"),
                         Canvas::Anchor::right);
        if (!panel_.title.empty()) {
            TypeStyle title = label_style("panel-title");
            title.face = TextItem::Face::semibold;
            const double room = x_.end - x_.start + tick_length + label_width_;
            canvas_.text({x_.start - tick_length, y_.end - 6.8 - lift_of(panel_)},
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
        for (const auto& tick : x_.ticks) {
            const double x = x_.place(tick.value), half = (canvas_.width(tick.label, style) + gap) / 2;
            if (written_.x && !tick.label.empty() && take(x - half, x + half))
                canvas_.text({x, y_.start + tick_length + 3.1}, tick.label, style, Canvas::Anchor::centre);
        }
        taken.clear();
        for (const auto& tick : y_.ticks) {
            const double y = y_.place(tick.value);
            if (written_.y_ticks && !tick.label.empty() && take(y - line / 2, y + line / 2))
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
        if (reference.name.empty())
            return;  // the axis or the caption names it
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
        if (written_.series)
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
    Labels written_;
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

std::size_t columns_of(std::size_t panels)
{
    return panels <= 1 ? 1 : panels == 2 || panels == 4 ? 2 : 3;
}

/// Panels of a figure in rows and columns. Small multiples share what they can: the axis of x is written
/// below the last panel of a column, the axis of y once where panels beside each other have the same.
class Grid {
public:
    Grid(Canvas& canvas, const model::Figure& figure, double width_mm)
        : canvas_(canvas), figure_(figure), stacked_(figure.kind == model::FigureKind::stacked)
    {
        const std::size_t count = figure.panels.size();
        columns_ = stacked_ ? 1 : columns_of(count);
        for (const auto& panel : figure.panels)
            legend_ =
                legend_ || needs_legend(canvas, panel) || (count > 2 && !stacked_ && panel.series.size() > 1);
        settle_scales();
        settle_margins(width_mm);
    }

    double draw()
    {
        double top = 0;
        for (std::size_t first = 0; first < figure_.panels.size(); first += columns_) {
            const double height = row_height(first);
            for (std::size_t i = first; i < std::min(figure_.panels.size(), first + columns_); ++i)
                draw_panel(i, top, height);
            top += height;
        }
        return top;
    }

    [[nodiscard]] bool legend() const { return legend_; }

private:
    struct Cell {
        Scale y = {};
        Labels written = {};
    };

    [[nodiscard]] const model::Panel& panel(std::size_t i) const { return figure_.panels[i]; }

    static bool same_axis(const model::Axis& one, const model::Axis& other)
    {
        return one.title == other.title && one.logarithmic == other.logarithmic && one.from == other.from &&
               one.to == other.to;
    }

    void settle_scales()
    {
        const int y_ticks = figure_.panels.size() > 1 ? 5 : 6;
        for (std::size_t i = 0; i < figure_.panels.size(); ++i) {
            Extent x(panel(i).x.logarithmic), y(panel(i).y.logarithmic);
            extend(x, y, panel(i));
            Cell cell;
            cell.y = make_scale(panel(i).y, y, y_ticks);
            // One series that the panel's or the figure's title names already needs no label of its own.
            cell.written.series = !legend_ && panel(i).series.size() > 1;
            const std::size_t below = i + columns_;
            cell.written.x =
                below >= figure_.panels.size() || (!stacked_ && !same_axis(panel(i).x, panel(below).x));
            if (i % columns_ > 0) {
                const auto& left = cells_.back().y;
                cell.written.y_title = panel(i).y.title != panel(i - 1).y.title;
                cell.written.y_ticks = cell.written.y_title || left.from != cell.y.from ||
                                       left.to != cell.y.to || left.logarithmic != cell.y.logarithmic;
            }
            cells_.push_back(std::move(cell));
        }
    }

    // Plots of one width whatever their columns write beside them.
    void settle_margins(double width_mm)
    {
        constexpr double gutter = 4, least_left = 3;
        double taken = gutter * static_cast<double>(columns_ - 1);
        for (std::size_t c = 0; c < columns_; ++c) {
            double left = least_left, right = 0;
            for (std::size_t i = c; i < figure_.panels.size(); i += columns_) {
                if (cells_[i].written.y_ticks)
                    left = std::max(left, widest_tick(canvas_, cells_[i].y) + tick_length + 1.2);
                right = std::max(right, right_margin(canvas_, panel(i), cells_[i].written.series));
            }
            lefts_.push_back(left);
            rights_.push_back(right);
            taken += left + right;
        }
        const double plot = (width_mm - taken) / static_cast<double>(columns_);
        double x = 0;
        for (std::size_t c = 0; c < columns_; ++c) {
            starts_.push_back(x + lefts_[c]);
            ends_.push_back(x + lefts_[c] + plot);
            x = ends_.back() + rights_[c] + gutter;
        }
    }

    [[nodiscard]] double row_height(std::size_t first) const
    {
        const std::size_t count = figure_.panels.size();
        if (stacked_)
            return (first + 1 < count ? stacked_upper : stacked_lower) -
                   (figure_.half_width ? half_width_is_lower_by : 0);
        if (count == 1)
            return figure_.half_width ? half_height : full_height;
        for (std::size_t i = first; i < std::min(count, first + columns_); ++i) {
            if (cells_[i].written.x)
                return multiple_height;
        }
        return multiple_above_height;
    }

    void draw_panel(std::size_t i, double top, double height)
    {
        const std::size_t column = i % columns_;
        bool x_in_row = false;
        for (std::size_t other = i - column; other < std::min(cells_.size(), i - column + columns_); ++other)
            x_in_row = x_in_row || cells_[other].written.x;
        Extent shared_x(figure_.panels.front().x.logarithmic), unused(false);
        for (const auto& one : figure_.panels)
            extend(shared_x, unused, one);
        Scale x = make_scale(panel(i).x, shared_x, columns_ > 1 ? 4 : 8);
        Scale y = cells_[i].y;
        x.start = starts_[column];
        x.end = ends_[column];
        y.start = top + height - (x_in_row ? 9.5 : 3);
        y.end = top + (panel(i).title.empty() ? 6.5 : 10) + lift_of(panel(i));
        PanelPlot(canvas_, panel(i), x, y, rights_[column] - label_gap - 1.5, cells_[i].written).draw();
    }

    Canvas& canvas_;
    const model::Figure& figure_;
    bool stacked_;
    bool legend_ = false;
    std::size_t columns_ = 1;
    std::vector<Cell> cells_;
    std::vector<double> lefts_, rights_, starts_, ends_;  ///< by column
};

/// Every name once, in the order in which the panels bring them.
std::vector<model::Series> named_once(const model::Figure& figure)
{
    std::vector<model::Series> named;
    for (const auto& panel : figure.panels) {
        for (const auto& series : panel.series) {
            if (std::ranges::find(named, series.name, &model::Series::name) != named.end())
                continue;
            model::Series key;
            key.name = series.name;
            key.mark = series.mark;
            key.stroke = series.stroke;
            key.colour = series.colour;
            named.push_back(std::move(key));
        }
    }
    return named;
}

}  // namespace

double draw_cartesian(Canvas& canvas, const model::Figure& figure, double width_mm)
{
    if (figure.panels.empty())
        return 0;
    Grid grid(canvas, figure, width_mm);
    double height = grid.draw();
    if (grid.legend())
        height += draw_legend(canvas, named_once(figure), {0, height}, width_mm);
    return height;
}

std::vector<model::Figure> split_panels(const Fonts& fonts, const model::Figure& figure, double width_mm)
{
    constexpr std::size_t most_rows = 4;
    constexpr double most_mm = 205;  // beside title and caption
    const std::size_t columns = columns_of(figure.panels.size()), count = figure.panels.size();
    if (figure.kind != model::FigureKind::small_multiples || count <= columns)
        return {figure};
    std::vector<model::Figure> parts;
    for (std::size_t first = 0; first < count;) {
        model::Figure part = figure;
        for (std::size_t rows = most_rows; rows > 0; --rows) {
            const std::size_t last = std::min(count, first + rows * columns);
            part.panels = {figure.panels.begin() + static_cast<std::ptrdiff_t>(first),
                           figure.panels.begin() + static_cast<std::ptrdiff_t>(last)};
            Canvas scratch(fonts);
            if (rows == 1 || draw_cartesian(scratch, part, width_mm) <= most_mm)
                break;
        }
        first += part.panels.size();
        parts.push_back(std::move(part));
    }
    for (std::size_t p = 0; p < parts.size() && parts.size() > 1; ++p) {
        parts[p].title += fmt::format(" ({} of {})", p + 1, parts.size());
        if (p + 1 < parts.size())
            parts[p].caption.clear();
    }
    return parts;
}

}  // namespace luxdossier::layout
