#include "workbook/chart.hpp"

#include <algorithm>
#include <array>
#include <stdexcept>

#include <fmt/format.h>
#include <xlsxwriter.h>

namespace luxdossier::workbook {
namespace {

constexpr lxw_color_t ink = 0x1C1C1C, grey = 0x8C8778, hairline = 0xBFBEBA;
constexpr std::array<lxw_color_t, 5> data_colours{0x2676C2, 0xC44A1C, 0x4A0E3A, 0x8C8778, 0x00604A};
constexpr std::uint8_t pixels_of_a_row = 20;
constexpr std::uint16_t width_pixels = 760, height_pixels = 380, polar_pixels = 560;

lxw_color_t colour_of(const ChartSeries& series)
{
    switch (series.ink) {
    case Ink::limit:
    case Ink::guard_band:
        return ink;
    case Ink::reference:
        return grey;
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
    if (series.ink == Ink::guard_band)
        line.dash_type = LXW_CHART_LINE_DASH_SQUARE_DOT;
    if (series.ink == Ink::reference)
        line.dash_type = LXW_CHART_LINE_DASH_DASH;
    chart_series_set_line(drawn, &line);
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
    if (bars)
        return;
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
    if (from.logarithmic)
        chart_axis_set_log_base(axis, 10);
    if (from.from)
        chart_axis_set_min(axis, *from.from);
    if (from.to)
        chart_axis_set_max(axis, *from.to);
    lxw_chart_line line{};
    line.color = hairline;
    line.width = 0.25F;
    chart_axis_major_gridlines_set_line(axis, &line);
    chart_axis_major_gridlines_set_visible(axis, from.logarithmic ? LXW_TRUE : LXW_FALSE);
}

}  // namespace

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
    if (chart.half_span) {
        const model::Axis span{"", false, -*chart.half_span, *chart.half_span};
        set_axis(drawn->x_axis, span);
        set_axis(drawn->y_axis, span);
    } else {
        set_axis(drawn->x_axis, chart.x);
        set_axis(drawn->y_axis, chart.y);
    }
    chart_show_blanks_as(drawn, LXW_CHART_BLANKS_AS_GAP);
    chart_legend_set_position(drawn, LXW_CHART_LEGEND_RIGHT);
    lxw_chart_options options{};
    // The library's chart is 480 x 288 pixels.
    const bool square = chart.half_span.has_value();
    options.x_scale = (square ? polar_pixels + 150.0 : width_pixels) / 480.0;
    options.y_scale = (square ? polar_pixels : height_pixels) / 288.0;
    if (worksheet_insert_chart_opt(sheet.handle(), position.row, position.column, drawn, &options) !=
        LXW_NO_ERROR)
        throw std::logic_error(
            fmt::format("workbook: the chart \"{}\" does not fit on its sheet", chart.title));
}

std::uint32_t chart_rows(const Chart& chart)
{
    const auto height = chart.half_span ? polar_pixels : height_pixels;
    return static_cast<std::uint32_t>(height / pixels_of_a_row) + 2;
}

}  // namespace luxdossier::workbook
