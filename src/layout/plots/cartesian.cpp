#include "layout/plots/panel.hpp"
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
constexpr std::ptrdiff_t most_direct_labels = 6;
constexpr double widest_label = 42;

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
        if (name_series && !series.in_background)
            consider(series.name);
    }
    return widest > 0 ? widest + panel_label_gap + 1.6 : 4;
}

/// More series than stand beside their lines, or a name too long to stand there.
bool needs_legend(const Canvas& canvas, const model::Panel& panel)
{
    const auto named = std::ranges::count(panel.series, false, &model::Series::in_background);
    return named > most_direct_labels ||
           (named > 1 && std::ranges::any_of(panel.series, [&](const auto& series) {
                return !series.in_background && canvas.width(series.name, plot_label) > widest_label;
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
        PanelLabels written = {};
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
                    left = std::max(left, widest_tick(canvas_, cells_[i].y) + panel_tick_length + 1.2);
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
        layout::draw_panel(canvas_, panel(i), x, y, rights_[column] - panel_label_gap - 1.5,
                           cells_[i].written);
    }

    Canvas& canvas_;
    const model::Figure& figure_;
    bool stacked_;
    bool legend_ = false;
    std::size_t columns_ = 1;
    std::vector<Cell> cells_;
    std::vector<double> lefts_, rights_, starts_, ends_;  ///< by column
};

/// Every name once, in the order in which the panels bring them; the caption tells what stands behind.
std::vector<model::Series> named_once(const model::Figure& figure)
{
    std::vector<model::Series> named;
    for (const auto& panel : figure.panels) {
        for (const auto& series : panel.series) {
            if (series.in_background ||
                std::ranges::find(named, series.name, &model::Series::name) != named.end())
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
        height += draw_legend(canvas, keys_of(named_once(figure)), {0, height}, width_mm);
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
