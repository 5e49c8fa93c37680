#include "workbook/sheets.hpp"

#include "uncertainty/formula.hpp"
#include "workbook/chart.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

constexpr std::uint16_t at_x = 2, at_y = 3, at_drawn_x = 4, at_drawn_y = 5;
constexpr double ring_step = 0.25;

/// Fills the sheet of numbers from top to bottom and keeps the charts that will refer to it.
class Plots {
public:
    Plots(Book& book, Sheet& sheet) : book_(book), sheet_(sheet)
    {
        for (std::size_t i = 0; i < book.dossier.evaluation.results.size(); ++i) {
            const auto& result = book.dossier.evaluation.results[i];
            if (result.metric == "illuminance" && result.value)
                illuminance_.emplace(*result.value, i);
        }
    }

    void add(const model::Figure& figure)
    {
        polar_ = figure.kind == model::FigureKind::polar;
        for (const auto& panel : figure.panels) {
            chart_ = Chart{};
            chart_.title = panel.title.empty() || figure.panels.size() == 1
                               ? figure.title
                               : fmt::format("{}: {}", figure.title, panel.title);
            chart_.x = panel.x;
            chart_.y = panel.y;
            add_panel(panel);
            if (!chart_.series.empty())
                charts_.push_back(std::move(chart_));
        }
        if (!figure.bars.empty())
            add_bars(figure);
    }

    [[nodiscard]] const std::vector<Chart>& charts() const { return charts_; }

private:
    using Cells = std::vector<std::pair<Term, Term>>;

    static Term number(double value) { return {"", value}; }

    void put(Position position, const Term& term)
    {
        if (term.text.empty())
            sheet_.number(position, term.value);
        else
            sheet_.formula(position, term.text, term.value);
    }

    void add_panel(const model::Panel& panel)
    {
        double greatest = 1;
        for (const auto& series : panel.series) {
            for (const auto& point : series.points)
                greatest = std::max(greatest, point.y + point.u_upper);
            add_data(series);
        }
        for (const auto& limit : panel.limits)
            add_limit(limit);
        for (const auto& reference : panel.references)
            add_points(reference.name, as_cells(reference.points), Ink::reference, model::Mark::none, true,
                       0);
        if (!panel.series.empty() && (panel.band_lower || panel.band_upper))
            add_band(panel);
        for (const auto& vertical : panel.verticals)
            add_points(vertical.text, vertical_line(panel, vertical.x), Ink::reference, model::Mark::none,
                       true, 0);
        if (!polar_)
            return;
        for (double radius = ring_step; radius <= std::ceil(greatest / ring_step) * ring_step;
             radius += ring_step) {
            Cells ring;
            for (int angle = -180; angle <= 180; angle += 5)
                ring.emplace_back(number(angle), number(radius));
            add_points(fmt::format("ring {}", radius), ring, radius == 0.5 ? Ink::limit : Ink::reference,
                       model::Mark::none, true, 3);
        }
        chart_.half_span = std::ceil(greatest / ring_step) * ring_step;
    }

    static Cells as_cells(const std::vector<model::Point>& points)
    {
        Cells cells;
        for (const auto& point : points)
            cells.emplace_back(number(point.x), number(point.y));
        return cells;
    }

    static Cells vertical_line(const model::Panel& panel, double x)
    {
        double least = 1e300, greatest = -1e300;
        for (const auto& series : panel.series)
            for (const auto& point : series.points) {
                least = std::min(least, point.y);
                greatest = std::max(greatest, point.y);
            }
        if (least > greatest)
            return {};
        return {{number(x), number(least)}, {number(x), number(greatest)}};
    }

    void add_data(const model::Series& series)
    {
        Cells cells, whiskers;
        const auto& results = book_.dossier.evaluation.results;
        for (std::size_t i = 0; i < series.points.size(); ++i) {
            const auto& point = series.points[i];
            Term x = number(point.x), y = number(point.y), u = number(point.u_upper);
            if (const auto found = illuminance_.find(point.x); found != illuminance_.end())
                x.text = book_.map.result_cell(found->second, column::result_value);
            if (series.origin.results.size() == series.points.size() && !point.hollow) {
                const auto which = series.origin.results[i];
                if (results[which].value == point.y)
                    y.text = book_.map.result_cell(which, column::result_value);
                if (results[which].combined && results[which].combined->expanded_uncertainty == u.value)
                    u.text = book_.map.result_cell(which, column::result_expanded);
            }
            cells.emplace_back(x, y);
            if (point.u_upper > 0 && !polar_)
                add_whisker(whiskers, x, y, u, point.u_lower);
        }
        const bool line = series.stroke != model::Stroke::none;
        add_points(series.name, cells, Ink::data, series.mark, line, series.colour);
        if (!whiskers.empty())
            add_points("U of " + series.name, whiskers, Ink::whisker, model::Mark::none, true, series.colour);
    }

    /// From y - U to y + U, then a blank row: the library knows no error bars of unlike length.
    static void add_whisker(Cells& whiskers, const Term& x, const Term& y, const Term& u, double u_lower)
    {
        const bool live = !y.text.empty() && !u.text.empty() && u_lower == u.value;
        whiskers.emplace_back(x, live ? Term{y.text + "-" + u.text, y.value - u.value}
                                      : number(y.value - u_lower));
        whiskers.emplace_back(x, live ? Term{y.text + "+" + u.text, y.value + u.value}
                                      : number(y.value + u.value));
        whiskers.emplace_back(number(NAN), number(NAN));
    }

    void add_limit(const model::LimitLine& line)
    {
        const auto& limits = book_.dossier.limits->limits;
        const auto found = std::ranges::find(limits, line.id, &model::Limit::id);
        const auto index = static_cast<std::size_t>(found - limits.begin());
        Cells tolerance, acceptance;
        for (const auto& point : line.points)
            tolerance.emplace_back(number(point.x), found == limits.end()
                                                        ? number(point.y)
                                                        : bound(index, *found, line.upper, point.y));
        for (const auto& point : line.acceptance)
            acceptance.emplace_back(number(point.x), found == limits.end()
                                                         ? number(point.y)
                                                         : accepted(index, *found, line.upper, point.y));
        const auto name = fmt::format("{} {}", line.id, line.upper ? "upper" : "lower");
        add_points(name, tolerance, Ink::limit, model::Mark::none, true, 0);
        add_points(name + ", acceptance", acceptance, Ink::guard_band, model::Mark::none, true, 0);
    }

    [[nodiscard]] static Term in_record_unit(const std::string& cell, const model::Limit& limit, double value)
    {
        std::string text = cell;
        if (!limit.plus_minus && limit.unit_scale != 1)
            text += "*" + uncertainty::exact_text(limit.unit_scale);
        if (!limit.plus_minus && limit.unit_offset != 0)
            text += fmt::format("+({})", uncertainty::exact_text(limit.unit_offset));
        return {text, value};
    }

    static bool close(double a, double b)
    {
        return std::abs(a - b) <= 1e-12 * std::max(std::abs(a), std::abs(b));
    }

    [[nodiscard]] Term bound(std::size_t index, const model::Limit& limit, bool upper, double y) const
    {
        const auto& stated = upper ? limit.upper : limit.lower;
        if (!stated || !close(*stated * limit.unit_scale + limit.unit_offset, y))
            return number(y);
        return in_record_unit(book_.map.limit_cell(index, upper ? column::limit_upper : column::limit_lower),
                              limit, y);
    }

    /// The acceptance limit of one of the limit's verdicts.
    [[nodiscard]] Term accepted(std::size_t index, const model::Limit& limit, bool upper, double y) const
    {
        constexpr std::uint16_t acceptance_lower = 11, acceptance_upper = 12;
        const auto& verdicts = book_.dossier.verdicts.verdicts;
        for (std::size_t i = 0; i < verdicts.size(); ++i) {
            const auto& stated = upper ? verdicts[i].acceptance_upper : verdicts[i].acceptance_lower;
            if (verdicts[i].limit == index && stated &&
                close(*stated * limit.unit_scale + limit.unit_offset, y))
                return in_record_unit(book_.map.verdict_cell(i, upper ? acceptance_upper : acceptance_lower),
                                      limit, y);
        }
        return number(y);
    }

    void add_band(const model::Panel& panel)
    {
        const auto& points = panel.series.front().points;
        if (points.empty())
            return;
        for (const auto& level : {panel.band_lower, panel.band_upper})
            if (level)
                add_points(
                    "tolerance",
                    {{number(points.front().x), number(*level)}, {number(points.back().x), number(*level)}},
                    Ink::limit, model::Mark::none, true, 0);
    }

    void add_points(const std::string& name, const Cells& cells, Ink ink, model::Mark mark, bool line,
                    int colour)
    {
        if (cells.empty())
            return;
        const auto first = row_;
        for (const auto& [x, y] : cells) {
            if (row_ == first) {
                sheet_.text({row_, 0}, chart_.title);
                sheet_.text({row_, 1}, name);
            }
            if (std::isfinite(x.value) && std::isfinite(y.value)) {
                put({row_, at_x}, x);
                put({row_, at_y}, y);
                if (polar_)
                    put_polar(x.value, y.value);
            }
            ++row_;
        }
        const auto range = [&](std::uint16_t column) {
            return CellRange{sheet_.name(), first, row_ - 1, column};
        };
        chart_.series.push_back({name, range(polar_ ? at_drawn_x : at_x), range(polar_ ? at_drawn_y : at_y),
                                 ink, mark, line, colour});
    }

    void put_polar(double degrees, double radius)
    {
        const double angle = degrees * std::acos(-1.0) / 180;
        const auto x = cell_name({row_, at_x}), y = cell_name({row_, at_y});
        sheet_.formula({row_, at_drawn_x}, fmt::format("{}*SIN({}*PI()/180)", y, x),
                       radius * std::sin(angle));
        sheet_.formula({row_, at_drawn_y}, fmt::format("{}*COS({}*PI()/180)", y, x),
                       radius * std::cos(angle));
    }

    void add_bars(const model::Figure& figure)
    {
        chart_ = Chart{};
        chart_.title = figure.title;
        chart_.bars = true;
        const auto first = row_;
        for (const auto& bar : figure.bars) {
            sheet_.text({row_, 1}, bar.name);
            sheet_.number({row_++, at_y}, bar.value);
        }
        chart_.series.push_back({figure.title,
                                 {sheet_.name(), first, row_ - 1, 1},
                                 {sheet_.name(), first, row_ - 1, at_y},
                                 Ink::data,
                                 model::Mark::none,
                                 false,
                                 0});
        charts_.push_back(std::move(chart_));
    }

    Book& book_;
    Sheet& sheet_;
    std::map<double, std::size_t> illuminance_;
    std::vector<Chart> charts_;
    Chart chart_;
    bool polar_ = false;
    std::uint32_t row_ = first_row;
};

}  // namespace

void write_charts(Book& book)
{
    auto& sheet = book.xlsx.add_sheet("charts");
    sheet.title("Charts", "Drawn from the cells of the sheet plots, which follow results and limits.");
    auto& numbers = book.xlsx.add_sheet("plots");
    numbers.title("Numbers behind the charts",
                  "Results and limits as live cells, logs and references as numbers.");
    numbers.headings(heading_row,
                     {"chart", "series", "x, or angle / degree", "y, or response", "drawn x", "drawn y"});
    Plots plots(book, numbers);
    for (const auto& figure : book.dossier.figures)
        plots.add(figure);
    auto row = first_row;
    for (const auto& chart : plots.charts()) {
        insert_chart(book.xlsx, sheet, {row, 0}, chart);
        row += chart_rows(chart);
    }
    sheet.column_width(0, 12);
    sheet.extend_to({row, 11});
}

}  // namespace luxdossier::workbook
