#include "workbook/sheets.hpp"

#include "uncertainty/formula.hpp"
#include "workbook/chart.hpp"
#include "workbook/chart_pages.hpp"

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
            chart_.alternative_text = figure.alternative_text;
            chart_.x = panel.x;
            chart_.y = panel.y;
            add_panel(panel);
            if (!chart_.series.empty())
                charts_.push_back(std::move(chart_));
        }
        if (!figure.bars.empty())
            add_bars(figure);
    }

    /// The smallest margin of each limit, worst first as evaluated.
    void add_margins()
    {
        struct Margin {
            double value = 0;
            std::size_t first = 0, last = 0;
        };
        const auto& verdicts = book_.dossier.verdicts.verdicts;
        std::map<std::size_t, Margin> of_limit;
        for (std::size_t i = 0; i < verdicts.size(); ++i) {
            const auto margin = book_.relative_margins.at(i);
            if (!margin)
                continue;
            const auto [found, fresh] = of_limit.emplace(verdicts[i].limit, Margin{*margin, i, i});
            found->second.value = std::min(found->second.value, *margin);
            found->second.last = i;
        }
        std::vector<std::pair<std::size_t, Margin>> sorted(of_limit.begin(), of_limit.end());
        std::ranges::stable_sort(sorted, {}, [](const auto& one) { return one.second.value; });
        std::vector<std::pair<std::string, Term>> bars;
        for (const auto& [limit, margin] : sorted) {
            const auto cell = [](std::size_t verdict) {
                return Position{first_row + static_cast<std::uint32_t>(verdict),
                                column::verdict_relative_margin};
            };
            const auto range = range_reference("verdicts", cell(margin.first), cell(margin.last));
            bars.emplace_back(book_.dossier.limits->limits[limit].id,
                              Term{fmt::format("IF(COUNT({0})=0,0,MIN({0}))", range), margin.value});
        }
        chart_ = Chart{};
        chart_.title = "Margins of all limits, worst result of each";
        chart_.alternative_text =
            "Distance of the worst result of each limit to its acceptance limit, in multiples "
            "of U. Bars to the left of 0 lie outside.";
        chart_.y.title = "margin to the acceptance limit / U";
        // Beyond ten times U nobody compares margins.
        constexpr double far = 10;
        if (!sorted.empty() && sorted.back().second.value > far)
            chart_.y.to = far;
        put_bars(bars);
    }

    /// What the uncertainty of the most critical result of each family is made of.
    void add_budgets()
    {
        const auto& dossier = book_.dossier;
        for (const auto& family : dossier.families) {
            std::optional<std::size_t> worst;
            for (std::size_t i = 0; i < dossier.verdicts.verdicts.size(); ++i) {
                const auto& verdict = dossier.verdicts.verdicts[i];
                if (!book_.relative_margins.at(i) || !verdict.result ||
                    book_.map.budget_of(*verdict.result) == nullptr)
                    continue;
                const auto& metric = dossier.evaluation.results[*verdict.result].metric;
                const bool ours =
                    std::ranges::find(family.metrics, metric, &model::MetricInfo::id) != family.metrics.end();
                if (ours && (!worst || *book_.relative_margins[i] < *book_.relative_margins[*worst]))
                    worst = i;
            }
            if (worst)
                add_budget(*dossier.verdicts.verdicts[*worst].result);
        }
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
            add_labelled(reference.name, as_cells(reference.points), Ink::reference, reference.name);
        if (!panel.series.empty() && (panel.band_lower || panel.band_upper))
            add_band(panel);
        for (const auto& vertical : panel.verticals)
            add_labelled(vertical.text, vertical_line(panel, vertical.x), Ink::reference, vertical.text);
        if (!polar_)
            return;
        for (double radius = ring_step; radius <= std::ceil(greatest / ring_step) * ring_step;
             radius += ring_step) {
            Cells ring;
            for (int angle = -180; angle <= 180; angle += 5)
                ring.emplace_back(number(angle), number(radius));
            constexpr std::size_t at_20_degree = 40;
            add_points(fmt::format("ring {}", radius), ring, radius == 0.5 ? Ink::limit : Ink::ring,
                       model::Mark::none, true, 0, {{at_20_degree, fmt::format("{}", radius)}});
        }
        add_spokes(std::ceil(greatest / ring_step) * ring_step);
        chart_.half_span = std::ceil(greatest / ring_step) * ring_step;
    }

    void add_spokes(double radius)
    {
        Cells cells;
        std::vector<PointLabel> labels;
        for (int angle = -150; angle <= 180; angle += 30) {
            cells.emplace_back(number(angle), number(0));
            labels.push_back({cells.size(), fmt::format("{}°", angle)});
            cells.emplace_back(number(angle), number(radius));
            cells.emplace_back(number(NAN), number(NAN));
        }
        add_points("angle", cells, Ink::spoke, model::Mark::none, true, 0, labels);
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
        add_labelled(name, tolerance, Ink::limit, line.id, !line.upper);
        add_labelled(name + ", acceptance", acceptance, Ink::guard_band, "");
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
                add_labelled(
                    "tolerance",
                    {{number(points.front().x), number(*level)}, {number(points.back().x), number(*level)}},
                    Ink::limit, level == panel.band_lower ? "" : "tolerance");
    }

    /// A line with its name at its end instead of in the legend; there stands the first of each kind.
    void add_labelled(const std::string& name, const Cells& cells, Ink ink, const std::string& label,
                      bool below = false)
    {
        if (cells.empty())
            return;
        std::vector<PointLabel> labels;
        if (!label.empty())
            labels.push_back({cells.size() - 1, label, below});
        add_points(name, cells, ink, model::Mark::none, true, 0, labels);
        const bool first = std::ranges::count(chart_.series, ink, &ChartSeries::ink) == 1;
        if (ink != Ink::limit && ink != Ink::guard_band)
            return;
        chart_.series.back().in_legend = first;
        if (first)
            chart_.series.back().name = ink == Ink::limit ? "tolerance limit" : "acceptance limit";
    }

    void add_points(const std::string& name, const Cells& cells, Ink ink, model::Mark mark, bool line,
                    int colour, std::vector<PointLabel> labels = {})
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
                                 ink, mark, line, colour, ink == Ink::data, std::move(labels)});
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

    void add_budget(std::size_t result)
    {
        const auto& block = *book_.map.budget_of(result);
        constexpr std::size_t most_lines = 12;
        const auto lines = std::min(block.budget.lines.size(), most_lines);
        if (lines == 0)
            return;
        const auto range = [&](std::uint16_t column) {
            return CellRange{"budgets", block.line_row(0), block.line_row(lines - 1), column};
        };
        chart_ = Chart{};
        const auto& of_result = book_.dossier.evaluation.results[result];
        chart_.title = fmt::format("Budget shares: {}, most critical result",
                                   metric_title(book_.dossier, of_result.metric));
        chart_.alternative_text = "Share of each input quantity in the squared uncertainty, largest first.";
        chart_.bars = true;
        chart_.y.title = "share of u squared, " + result_text(book_.dossier, of_result);
        chart_.series.push_back(
            {"share", range(0), range(column::budget_share), Ink::data, model::Mark::none, false, 0});
        charts_.push_back(std::move(chart_));
    }

    void add_bars(const model::Figure& figure)
    {
        chart_ = Chart{};
        chart_.title = figure.title;
        chart_.alternative_text = figure.alternative_text;
        std::vector<std::pair<std::string, Term>> bars;
        for (const auto& bar : figure.bars)
            bars.emplace_back(bar.name, number(bar.value));
        put_bars(bars);
    }

    void put_bars(const std::vector<std::pair<std::string, Term>>& bars)
    {
        if (bars.empty())
            return;
        chart_.bars = true;
        const auto first = row_;
        for (const auto& [name, value] : bars) {
            if (row_ == first)
                sheet_.text({row_, 0}, chart_.title);
            sheet_.text({row_, 1}, name);
            put({row_++, at_y}, value);
        }
        chart_.series.push_back({chart_.title,
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
    auto& sheet = book.sheet("charts");
    sheet.title("Charts", "Drawn from the cells of the sheet plots, which follow results and limits.",
                ways());
    auto& numbers = book.sheet("plots");
    numbers.title("Numbers behind the charts",
                  "Results and limits as live cells, logs and references as numbers.", ways());
    numbers.headings(heading_row, {{"chart"},
                                   {"series"},
                                   {"x, or angle / degree", true, 12},
                                   {"y, or response", true, 12},
                                   {"drawn x", true, 12},
                                   {"drawn y", true, 12}});
    Plots plots(book, numbers);
    plots.add_margins();
    for (const auto& figure : book.dossier.figures)
        plots.add(figure);
    plots.add_budgets();
    // A list of the charts stands on a page of its own.
    const auto count = static_cast<std::uint32_t>(plots.charts().size());
    const auto top = first_row + (count + 1) / 2 + 1;
    ChartPages pages(top);
    std::map<std::pair<std::uint32_t, std::uint16_t>, std::string> titles;
    for (std::uint32_t i = 0; i < count; ++i) {
        const auto& chart = plots.charts()[i];
        auto position = pages.next(chart.is_tall());
        sheet.link({first_row + i / 2, static_cast<std::uint16_t>(i % 2 * place_columns)},
                   reference("charts", position), chart.title);
        if (chart.half_span) {
            titles[{position.row, position.column}] = chart.title;
            ++position.row;
        }
        insert_chart(book.xlsx, sheet, position, chart);
    }
    for (const auto& [at, title] : titles)
        sheet.text({at.first, at.second}, title, Look::strong);
    sheet.pages(chart_page_scale, pages.breaks());
    constexpr double usual_column = 8.43;
    for (const auto column : {std::uint16_t{0}, place_columns})
        sheet.column_width(column, usual_column);
    if (!plots.charts().empty())
        sheet.extend_to(pages.end());
}

}  // namespace luxdossier::workbook
