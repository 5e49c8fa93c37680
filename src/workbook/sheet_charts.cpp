#include "workbook/sheets.hpp"

#include "uncertainty/formula.hpp"
#include "workbook/chart.hpp"
#include "workbook/chart_pages.hpp"
#include "workbook/plot_cells.hpp"

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
        transposed_ = figure.kind == model::FigureKind::dots;
        for (const auto& panel : figure.panels) {
            chart_ = Chart{};
            // Panels without a title differ by what they draw: "relative power" of "relative power / 1".
            const auto part =
                panel.title.empty() ? panel.y.title.substr(0, panel.y.title.find(" /")) : panel.title;
            chart_.title =
                figure.panels.size() == 1 ? figure.title : fmt::format("{}: {}", figure.title, part);
            chart_.alternative_text = figure.alternative_text;
            chart_.x = transposed_ ? panel.y : panel.x;
            chart_.y = transposed_ ? panel.x : panel.y;
            add_panel(panel);
            for (const auto& angle : figure.angles)
                add_half_angle(angle);
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
        if (polar_)
            add_polar_grid(std::ceil(greatest / ring_step) * ring_step);
        if (transposed_)
            add_rows(panel);
    }

    void add_polar_grid(double reach)
    {
        constexpr std::size_t at_20_degree = 40;
        for (double radius = ring_step; radius <= reach; radius += ring_step)
            add_points(fmt::format("ring {}", radius), ring(radius), radius == 0.5 ? Ink::limit : Ink::ring,
                       model::Mark::none, true, 0, {{at_20_degree, fmt::format("{}", radius)}});
        std::vector<PointLabel> labels;
        const auto cells = spokes(reach, labels);
        add_points("angle", cells, Ink::spoke, model::Mark::none, true, 0, labels);
        chart_.half_span = reach;
    }

    /// Names of the rows of a figure of dots, at its left.
    void add_rows(const model::Panel& panel)
    {
        double least = 1e300;
        for (const auto& series : panel.series)
            for (const auto& point : series.points)
                least = std::min(least, point.y - point.u_lower);
        for (const auto& limit : panel.limits)
            for (const auto& point : limit.points)
                least = std::min(least, point.y);
        Cells cells;
        std::vector<PointLabel> labels;
        for (const auto& name : panel.x.categories) {
            labels.push_back({cells.size(), name, PointLabel::Side::left});
            cells.emplace_back(plain(static_cast<double>(cells.size() + 1)), plain(least));
        }
        add_points("rows", cells, Ink::spoke, model::Mark::none, false, 0, labels);
        chart_.rows = panel.x.categories.size();
    }

    void add_data(const model::Series& series)
    {
        Cells cells, whiskers;
        const auto& results = book_.dossier.evaluation.results;
        for (std::size_t i = 0; i < series.points.size(); ++i) {
            const auto& point = series.points[i];
            Term x = plain(point.x), y = plain(point.y), u = plain(point.u_upper);
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
        const bool visible = line || series.mark != model::Mark::none;
        if (visible)
            add_points(series.name, cells, Ink::data, series.mark, line, series.colour);
        if (whiskers.empty())
            return;
        add_points(visible ? "U of " + series.name : series.name, whiskers, Ink::whisker, model::Mark::none,
                   true, series.colour);
        chart_.series.back().in_legend = !visible;
    }

    /// The bar in the colour of its series, its words beside it.
    void add_half_angle(const model::MarkedAngle& angle)
    {
        // Planes of one product cross nearly at one place: their words stand on either side.
        const auto side = angle.series % 2 == 0 ? PointLabel::Side::above : PointLabel::Side::below;
        constexpr std::size_t at_angle = 1;
        add_points("half response: " + angle.text, half_angle(angle), Ink::whisker, model::Mark::none, true,
                   angle.series, {{at_angle, angle.text, side}});
    }

    void add_limit(const model::LimitLine& line)
    {
        const auto& limits = book_.dossier.limits->limits;
        const auto found = std::ranges::find(limits, line.id, &model::Limit::id);
        const auto index = static_cast<std::size_t>(found - limits.begin());
        Cells tolerance, acceptance;
        for (const auto& point : line.points)
            tolerance.emplace_back(plain(point.x), found == limits.end()
                                                       ? plain(point.y)
                                                       : bound(index, *found, line.upper, point.y));
        for (const auto& point : line.acceptance)
            acceptance.emplace_back(plain(point.x), found == limits.end()
                                                        ? plain(point.y)
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
            return plain(y);
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
        return plain(y);
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
                    {{plain(points.front().x), plain(*level)}, {plain(points.back().x), plain(*level)}},
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
            labels.push_back(
                {cells.size() - 1, label, below ? PointLabel::Side::below : PointLabel::Side::above});
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
        for (const auto& [of_x, of_y] : cells) {
            const auto &x = transposed_ ? of_y : of_x, &y = transposed_ ? of_x : of_y;
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
            bars.emplace_back(bar.name, plain(bar.value));
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
    bool polar_ = false, transposed_ = false;
    std::uint32_t row_ = first_row;
};

}  // namespace

void write_charts(Book& book)
{
    auto& sheet = book.sheet("charts");
    sheet.row_height(chart_row_points);
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
