#include "layout/marks.hpp"
#include "layout/plots/limit_area.hpp"
#include "layout/plots/plot.hpp"
#include "layout/plots/rows.hpp"
#include "layout/plots/scale.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::layout {
namespace {

constexpr double name_gap = 2.5, tick_length = pt(3), tier_height = 3.6, below_axis = 9.5;

TypeStyle style_of(const char* role, Rgb colour = ink)
{
    TypeStyle style = plot_label;
    style.role = role;
    style.colour = colour;
    return style;
}

/// A name above the frame at a place of the value axis.
struct TopName {
    std::string text;
    double x = 0;
    Rgb colour = ink;
    double left = 0, width = 0;
    std::size_t tier = 0;
};

/// Gives each name the lowest tier in which it meets no other; names that stand at one place are said once.
std::size_t place_names(const Canvas& canvas, std::vector<TopName>& names, double from, double to)
{
    std::ranges::stable_sort(names, {}, &TopName::x);
    const auto same = [](const TopName& a, const TopName& b) {
        return a.text == b.text && std::abs(a.x - b.x) < 0.3;
    };
    names.erase(std::unique(names.begin(), names.end(), same), names.end());
    std::vector<double> ends;
    for (auto& name : names) {
        name.width = canvas.width(name.text, plot_label);
        name.left = std::max(from, std::min(name.x - name.width / 2, to - name.width));
        while (name.tier < ends.size() && name.left < ends[name.tier] + 1.5)
            ++name.tier;
        if (name.tier == ends.size())
            ends.push_back(0);
        ends[name.tier] = name.left + name.width;
    }
    return ends.size();
}

/// One panel on its side: categories downwards, values from left to right.
class DotPanel {
public:
    DotPanel(Canvas& canvas, const model::Panel& panel, double top, double width_mm)
        : canvas_(canvas), panel_(panel), top_(top), width_(width_mm)
    {
        settle_rows();
        make_values();
    }

    /// Returns the bottom.
    double draw()
    {
        collect_names();
        const double names_top = top_ + (panel_.title.empty() ? 0 : 4.5);
        const auto tiers = place_names(canvas_, names_, values_.start, width_);
        first_row_ = names_top + tier_height * static_cast<double>(tiers) + (tiers > 0 ? 1.0 : 0.5);
        if (!panel_.title.empty()) {
            auto title = style_of("panel-title");
            title.face = TextItem::Face::semibold;
            canvas_.text({0, top_ + 3.2}, panel_.title, title);
        }
        draw_rows();
        for (const auto& limit : panel_.limits)
            draw_limit(limit);
        for (const auto& band : {panel_.band_lower, panel_.band_upper}) {
            if (band && values_.holds(*band))
                vertical(*band, {pt(0.5), grey, {}}, "band");
        }
        for (const auto& reference : panel_.references)
            draw_reference(reference);
        for (const auto& series : panel_.series)
            draw_series(series);
        draw_names();
        draw_axis();
        return bottom() + below_axis;
    }

private:
    // A row for every category, and for points behind the last name.
    void settle_rows()
    {
        auto names = panel_.x.categories;
        for (const auto& series : panel_.series) {
            for (const auto& point : series.points) {
                if (std::isfinite(point.x) && point.x > static_cast<double>(names.size()) + 0.5)
                    names.resize(static_cast<std::size_t>(std::lround(point.x)));
            }
        }
        rows_ = place_rows(canvas_.fonts(), names, width_);
        left_ = rows_.name_width + name_gap;
    }

    void make_values()
    {
        Extent extent(panel_.y.logarithmic);
        for (const auto& series : panel_.series) {
            for (const auto& point : series.points) {
                for (const double value : {point.y, point.y - point.u_lower, point.y + point.u_upper})
                    extent.add(value);
            }
        }
        for (const auto& limit : panel_.limits) {
            for (const auto& point : limit.points)
                extent.add(point.y);
        }
        for (const auto& reference : panel_.references) {
            for (const auto& point : reference.points)
                extent.add(point.y);
        }
        for (const auto& band : {panel_.band_lower, panel_.band_upper}) {
            if (band)
                extent.add(*band);
        }
        values_ = make_scale(panel_.y, extent, 6);
        values_.start = left_;
        values_.end = width_ - 3;
    }

    [[nodiscard]] double bottom() const { return first_row_ + rows_.height(); }

    /// Place of a category coordinate: n - 1/2 and n + 1/2 are the edges of row n.
    [[nodiscard]] double row_place(double category) const
    {
        const double last = static_cast<double>(rows_.edges.size() - 1);
        const double at = std::clamp(category - 0.5, 0.0, last);
        const auto row = static_cast<std::size_t>(std::min(std::floor(at), std::max(0.0, last - 1)));
        if (row + 1 >= rows_.edges.size())
            return first_row_;
        return first_row_ + rows_.edges[row] +
               (rows_.edges[row + 1] - rows_.edges[row]) * (at - static_cast<double>(row));
    }

    [[nodiscard]] std::vector<Position> places_of(const std::vector<model::Point>& points) const
    {
        std::vector<Position> places;
        for (const auto& point : points) {
            if (std::isfinite(point.y) && (!values_.logarithmic || point.y > 0))
                places.push_back({values_.place(values_.clamped(point.y)), row_place(point.x)});
        }
        return places;
    }

    void vertical(double value, const LineStyle& style, const std::string& role)
    {
        const double x = values_.place(value);
        canvas_.line({x, first_row_}, {x, bottom()}, style, role);
    }

    void draw_rows()
    {
        for (std::size_t i = 0; i < rows_.names.size(); ++i) {
            const double middle = first_row_ + rows_.middle(i);
            canvas_.line({left_, middle}, {values_.end, middle}, {pt(0.25), hairline, {}}, "row");
            draw_name(canvas_, rows_, i, left_ - name_gap, middle);
        }
    }

    void draw_limit(const model::LimitLine& limit)
    {
        LimitArea area{limit.id, places_of(limit.points), {}, places_of(limit.acceptance)};
        if (area.line.size() < 2)
            return;
        const double edge = limit.upper ? values_.end : values_.start;
        area.far_edge = {{edge, area.line.back().y}, {edge, area.line.front().y}};
        draw_limit_area(canvas_, area);
    }

    void draw_reference(const model::Reference& reference)
    {
        canvas_.polyline(places_of(reference.points), {pt(0.7), grey, {1.2, 0.9}},
                         "reference:" + reference.name);
    }

    void draw_series(const model::Series& series)
    {
        const Rgb colour = data_colour(series.colour);
        for (const auto& point : series.points) {
            if (!std::isfinite(point.y) || (values_.logarithmic && point.y <= 0))
                continue;
            const double y = row_place(point.x);
            const auto end = [&](double value) { return values_.place(values_.clamped(value)); };
            const double from = end(point.y - point.u_lower), to = end(point.y + point.u_upper);
            if (from != to)
                canvas_.line({from, y}, {to, y}, {pt(0.7), colour, {}}, "whisker:" + series.name);
            if (values_.holds(point.y))
                draw_mark(canvas_, series.mark, {values_.place(point.y), y}, colour, point.hollow,
                          "mark:" + series.name);
            else
                draw_edge_arrow(canvas_, {end(point.y), y}, {point.y > values_.to ? 1.0 : -1.0, 0}, colour,
                                "beyond:" + series.name);
        }
    }

    void collect_names()
    {
        const auto add = [&](const std::string& text, const std::vector<model::Point>& points, Rgb colour) {
            if (!text.empty() && !points.empty() && std::isfinite(points.front().y))
                names_.push_back({text, values_.place(values_.clamped(points.front().y)), colour, 0, 0, 0});
        };
        for (const auto& limit : panel_.limits)
            add(limit.id, limit.points, ink);
        for (const auto& reference : panel_.references)
            add(reference.name, reference.points, grey);
    }

    void draw_names()
    {
        for (const auto& name : names_) {
            const double baseline = first_row_ - 1.4 - tier_height * static_cast<double>(name.tier);
            canvas_.text({name.left, baseline}, name.text, style_of("direct-label", name.colour));
            canvas_.line({name.x, baseline + 0.9}, {name.x, first_row_}, {pt(0.3), name.colour, {}},
                         "leader");
        }
    }

    void draw_axis()
    {
        const LineStyle style{pt(0.5), ink, {}};
        canvas_.line({left_, bottom()}, {values_.end, bottom()}, style, "axis:x");
        canvas_.line({left_, first_row_}, {left_, bottom()}, style, "axis:y");
        const auto label = style_of("tick-label");
        double occupied = -1e9;
        for (const auto& tick : values_.ticks) {
            const double x = values_.place(tick.value);
            canvas_.line({x, bottom()}, {x, bottom() + (tick.minor ? pt(1.8) : tick_length)}, style,
                         tick.minor ? "tick:x:minor" : "tick:x");
            const double half = canvas_.width(tick.label, label) / 2;
            if (tick.label.empty() || x - half < occupied + 1.2)
                continue;
            canvas_.text({x, bottom() + tick_length + 3.1}, tick.label, label, Canvas::Anchor::centre);
            occupied = x + half;
        }
        canvas_.text({values_.end, bottom() + tick_length + 7.0}, panel_.y.title, style_of("axis-title"),
                     Canvas::Anchor::right);
    }

    Canvas& canvas_;
    const model::Panel& panel_;
    double top_, width_, left_ = 0, first_row_ = 0;
    NamedRows rows_;
    Scale values_;
    std::vector<TopName> names_;
};

}  // namespace

double draw_dots(Canvas& canvas, const model::Figure& figure, double width_mm)
{
    double y = 0;
    for (const auto& panel : figure.panels)
        y = DotPanel(canvas, panel, y, width_mm).draw() + 1;
    if (!figure.panels.empty() && figure.panels.front().series.size() > 1)
        y += draw_legend(canvas, keys_of(figure.panels.front().series), {0, y}, width_mm);
    return y;
}

}  // namespace luxdossier::layout
