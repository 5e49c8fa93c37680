#include "workbook/chart.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>
#include <xlsxwriter.h>

namespace luxdossier::workbook {
namespace {

constexpr lxw_color_t ink = 0x1C1C1C, grey = 0x8C8778, hairline = 0xBFBEBA;
constexpr std::array<lxw_color_t, 5> data_colours{0x2676C2, 0xC44A1C, 0x4A0E3A, 0x8C8778, 0x00604A};
// The library's chart is 480 x 288 pixels; a column of usual width has 64 pixels.
constexpr double usual_width = 480, usual_height = 288;
constexpr double width_pixels = 620, height_pixels = 445, gap_pixels = 6;

lxw_color_t colour_of(const ChartSeries& series)
{
    switch (series.ink) {
    case Ink::limit:
    case Ink::guard_band:
        return ink;
    case Ink::reference:
    case Ink::ring:
        return grey;
    case Ink::spoke:
        return hairline;
    default:
        return data_colours[static_cast<std::size_t>(series.colour) % data_colours.size()];
    }
}

std::uint8_t marker_of(model::Mark mark)
{
    switch (mark) {
    case model::Mark::disc:
    case model::Mark::hollow_disc:
        return LXW_CHART_MARKER_CIRCLE;
    case model::Mark::square:
        return LXW_CHART_MARKER_SQUARE;
    case model::Mark::triangle:
        return LXW_CHART_MARKER_TRIANGLE;
    case model::Mark::diamond:
        return LXW_CHART_MARKER_DIAMOND;
    case model::Mark::cross:
        return LXW_CHART_MARKER_X;
    case model::Mark::none:
        break;
    }
    return LXW_CHART_MARKER_NONE;
}

void draw_line(lxw_chart_series* drawn, const ChartSeries& series)
{
    lxw_chart_line line{};
    line.color = colour_of(series);
    line.none = series.line ? LXW_FALSE : LXW_TRUE;
    line.width = series.ink == Ink::data ? 1.25F : 0.75F;
    if (series.ink == Ink::ring || series.ink == Ink::spoke)
        line.width = 0.25F;
    if (series.ink == Ink::guard_band)
        line.dash_type = LXW_CHART_LINE_DASH_SQUARE_DOT;
    if (series.ink == Ink::reference)
        line.dash_type = LXW_CHART_LINE_DASH_DASH;
    chart_series_set_line(drawn, &line);
}

std::uint8_t position_of(PointLabel::Side side)
{
    switch (side) {
    case PointLabel::Side::below:
        return LXW_CHART_LABEL_POSITION_BELOW;
    case PointLabel::Side::left:
        return LXW_CHART_LABEL_POSITION_LEFT;
    case PointLabel::Side::above:
        break;
    }
    return LXW_CHART_LABEL_POSITION_ABOVE;
}

/// Labels of single points; the others of the series have none.
void add_labels(lxw_chart_series* drawn, const ChartSeries& series)
{
    if (series.labels.empty())
        return;
    const auto points = series.y.last_row - series.y.first_row + 1;
    lxw_chart_font font{};
    font.size = 8;
    font.color = series.ink == Ink::limit ? ink : 0x595959;
    std::vector<lxw_chart_data_label> labels(points);
    for (auto& label : labels)
        label.hide = LXW_TRUE;
    std::vector<std::string> texts;
    for (const auto& label : series.labels)
        texts.push_back(cell_text(label.text));
    for (std::size_t i = 0; i < texts.size(); ++i) {
        auto& label = labels.at(series.labels[i].point);
        label.hide = LXW_FALSE;
        label.value = texts[i].data();
        label.font = &font;
    }
    std::vector<lxw_chart_data_label*> list;
    for (auto& label : labels)
        list.push_back(&label);
    list.push_back(nullptr);
    chart_series_set_labels(drawn);
    if (chart_series_set_labels_custom(drawn, list.data()) != LXW_NO_ERROR)
        throw std::logic_error(fmt::format("workbook: no labels for the series \"{}\"", series.name));
    chart_series_set_labels_position(drawn, position_of(series.labels.front().side));
}

void add_series(lxw_chart* chart, const ChartSeries& series, bool bars)
{
    auto* drawn = chart_add_series(chart, nullptr, nullptr);
    if (drawn == nullptr)
        throw std::logic_error("workbook: a chart takes no more series");
    const auto set = [&](auto function, const CellRange& range) {
        function(drawn, range.sheet.c_str(), range.first_row, range.column, range.last_row, range.column);
    };
    set(chart_series_set_categories, series.x);
    set(chart_series_set_values, series.y);
    chart_series_set_name(drawn, cell_text(series.name).c_str());
    if (bars) {
        lxw_chart_fill fill{};
        fill.color = data_colours.front();
        chart_series_set_fill(drawn, &fill);
        return;
    }
    add_labels(drawn, series);
    draw_line(drawn, series);
    chart_series_set_marker_type(drawn, marker_of(series.mark));
    if (series.mark == model::Mark::none)
        return;
    chart_series_set_marker_size(drawn, 5);
    lxw_chart_fill fill{};
    fill.color = colour_of(series);
    fill.none = series.mark == model::Mark::hollow_disc ? LXW_TRUE : LXW_FALSE;
    chart_series_set_marker_fill(drawn, &fill);
    lxw_chart_line edge{};
    edge.color = colour_of(series);
    chart_series_set_marker_line(drawn, &edge);
}

void set_axis(lxw_chart_axis* axis, const model::Axis& from)
{
    chart_axis_set_name(axis, from.title.c_str());
    chart_axis_set_label_position(axis, LXW_CHART_AXIS_LABEL_POSITION_LOW);
    chart_axis_set_num_format(axis, "General");
    lxw_chart_font font{};
    font.size = 9;
    font.bold = LXW_FALSE;
    chart_axis_set_name_font(axis, &font);
    // Linear axes are left to the program that draws: it makes room for a limit that was moved.
    if (from.logarithmic) {
        chart_axis_set_log_base(axis, 10);
        if (from.from && *from.from > 0)
            chart_axis_set_min(axis, std::pow(10, std::floor(std::log10(*from.from))));
        if (from.to && *from.to > 0)
            chart_axis_set_max(axis, std::pow(10, std::ceil(std::log10(*from.to))));
    }
    lxw_chart_line line{};
    line.color = hairline;
    line.width = 0.25F;
    chart_axis_major_gridlines_set_line(axis, &line);
    chart_axis_major_gridlines_set_visible(axis, from.logarithmic ? LXW_TRUE : LXW_FALSE);
}

/// Circles stay round: nothing takes room from one side of the square, so the title stands in a cell above.
void set_polar(lxw_chart* drawn, double half_span)
{
    for (auto* axis : {drawn->x_axis, drawn->y_axis}) {
        chart_axis_set_min(axis, -half_span);
        chart_axis_set_max(axis, half_span);
        chart_axis_major_gridlines_set_visible(axis, LXW_FALSE);
        chart_axis_off(axis);
    }
    chart_title_off(drawn);
}

void set_bars(lxw_chart* drawn, const Chart& chart)
{
    // The library's x axis is the horizontal one, on which the values stand.
    set_axis(drawn->x_axis, chart.y);
    set_axis(drawn->y_axis, chart.x);
    chart_axis_major_gridlines_set_visible(drawn->x_axis, LXW_TRUE);
    if (chart.y.to)
        chart_axis_set_max(drawn->x_axis, *chart.y.to);
    // The first bar stands above, each has its name.
    chart_axis_set_reverse(drawn->y_axis);
    chart_axis_set_interval_unit(drawn->y_axis, 1);
    lxw_chart_font font{};
    font.size = 8;
    chart_axis_set_num_font(drawn->y_axis, &font);
    chart_legend_set_position(drawn, LXW_CHART_LEGEND_NONE);
}

/// Rows from the top, without numbers: each has its name in the plot. The values stand below.
void set_rows(lxw_chart_axis* axis, std::size_t rows)
{
    chart_axis_set_reverse(axis);
    chart_axis_set_crossing_max(axis);
    chart_axis_set_min(axis, 0);
    chart_axis_set_max(axis, static_cast<double>(rows + 1));
    chart_axis_set_major_unit(axis, 1);
    chart_axis_set_label_position(axis, LXW_CHART_AXIS_LABEL_POSITION_NONE);
}

/// Names that stand in the plot, whiskers and rings need no place in the legend.
void set_legend(lxw_chart* drawn, const Chart& chart)
{
    std::vector<std::int16_t> left_out;
    for (std::size_t i = 0; i < chart.series.size(); ++i)
        if (!chart.series[i].in_legend)
            left_out.push_back(static_cast<std::int16_t>(i));
    chart_legend_set_position(drawn,
                              chart.half_span ? LXW_CHART_LEGEND_OVERLAY_TOP_RIGHT : LXW_CHART_LEGEND_BOTTOM);
    if (left_out.empty())
        return;
    left_out.push_back(-1);
    if (chart_legend_delete_series(drawn, left_out.data()) != LXW_NO_ERROR)
        throw std::logic_error(fmt::format("workbook: no legend for the chart \"{}\"", chart.title));
}

}  // namespace

bool Chart::is_tall() const
{
    constexpr std::uint32_t most_short_bars = 14;
    return half_span.has_value() || rows >= most_short_bars ||
           (bars && !series.empty() && series[0].y.last_row - series[0].y.first_row >= most_short_bars);
}

void insert_chart(Xlsx& book, Sheet& sheet, Position position, const Chart& chart)
{
    auto* drawn = workbook_add_chart(book.handle(),
                                     chart.bars ? LXW_CHART_BAR : LXW_CHART_SCATTER_STRAIGHT_WITH_MARKERS);
    if (drawn == nullptr)
        throw std::logic_error("workbook: no memory for a chart");
    chart_title_set_name(drawn, cell_text(chart.title).c_str());
    lxw_chart_font font{};
    font.size = 11;
    font.bold = LXW_TRUE;
    chart_title_set_name_font(drawn, &font);
    for (const auto& series : chart.series)
        add_series(drawn, series, chart.bars);
    if (chart.bars) {
        set_bars(drawn, chart);
    } else {
        if (chart.half_span) {
            set_polar(drawn, *chart.half_span);
        } else {
            set_axis(drawn->x_axis, chart.x);
            set_axis(drawn->y_axis, chart.y);
        }
        if (chart.rows > 0)
            set_rows(drawn->y_axis, chart.rows);
        set_legend(drawn, chart);
    }
    chart_show_blanks_as(drawn, LXW_CHART_BLANKS_AS_GAP);
    auto description = cell_text(chart.alternative_text);
    lxw_chart_options options{};
    options.x_scale = width_pixels / usual_width;
    // Rows take all of two places, a polar plot is square.
    const double tall_pixels = chart.half_span ? width_pixels : 2 * height_pixels + gap_pixels;
    options.y_scale = (chart.is_tall() ? tall_pixels : height_pixels) / usual_height;
    options.y_offset = static_cast<std::int32_t>(gap_pixels);
    if (!description.empty())
        options.description = description.data();
    if (worksheet_insert_chart_opt(sheet.handle(), position.row, position.column, drawn, &options) !=
        LXW_NO_ERROR)
        throw std::logic_error(
            fmt::format("workbook: the chart \"{}\" does not fit on its sheet", chart.title));
    book.count_chart(chart.series.size());
}

}  // namespace luxdossier::workbook
