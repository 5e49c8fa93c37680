#include "layout/blocks.hpp"
#include "layout/lines.hpp"
#include "layout/marks.hpp"
#include "layout/strip.hpp"
#include "layout/table_columns.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::layout {
namespace {

constexpr double row_padding = pt(1.6);  // above and below the text of a row
constexpr double group_air = pt(4.5);
constexpr double kept_whole = 45;  // mm; a table no higher than this is not broken
constexpr double head_padding = pt(2.2);
constexpr double tallest_row = 120;  // mm; a higher one is broken between its lines

double line_height()
{
    return pt(table_style.line_pt);
}

double first_baseline(double top)
{
    return top + pt(table_style.line_pt / 2 + table_style.size_pt * 0.36);
}

void rule(Canvas& canvas, double y, double width)
{
    canvas.line({0, y}, {width, y}, {hairline_mm, hairline, {}}, "rule");
}

// Draws a cell's lines; returns how many there were.
std::size_t draw_lines(Canvas& canvas, const std::vector<Line>& lines, const ColumnPlace& place,
                       report::Alignment alignment, double inset, double top, const TypeStyle& style)
{
    for (std::size_t i = 0; i < lines.size(); ++i) {
        double x = place.x + inset;
        if (alignment == report::Alignment::right || alignment == report::Alignment::decimal)
            x = place.x + place.width - lines[i].width;
        else if (alignment == report::Alignment::centre)
            x = place.x + (place.width - lines[i].width) / 2;
        draw_line(canvas, lines[i], {x, first_baseline(top + line_height() * static_cast<double>(i))}, style);
    }
    return lines.size();
}

std::size_t draw_cell(Canvas& canvas, const report::Cell& cell, const report::ColumnSpec& spec,
                      const ColumnPlace& place, double top)
{
    if (cell.strip) {
        draw_strip(canvas, *cell.strip, {place.x, top + line_height() / 2});
        return 1;
    }
    double inset = 0;
    if (cell.outcome) {
        draw_outcome(canvas, *cell.outcome, {place.x + outcome_mark_size / 2, top + line_height() / 2},
                     outcome_mark_size);
        inset = outcome_mark_room;
    }
    if (spec.alignment == report::Alignment::decimal) {
        const auto parts = decimal_parts(cell.text);
        if (parts.numeric) {
            const auto before = single_line(canvas.fonts(), parts.before, table_style);
            const auto after = single_line(canvas.fonts(), parts.after, table_style);
            const double x = place.x + place.decimal_x, baseline = first_baseline(top);
            draw_line(canvas, before, {x - before.width, baseline}, table_style);
            draw_line(canvas, after, {x, baseline}, table_style);
            return 1;
        }
    }
    const auto lines = break_lines(canvas.fonts(), cell.text, table_style, place.width - inset + 0.05);
    draw_lines(canvas, lines, place, spec.alignment, inset, top, table_style);
    if (!cell.link.empty() && !lines.empty()) {
        const double height = line_height() * static_cast<double>(lines.size());
        canvas.add(LinkItem{{place.x + inset, top, place.width - inset, height}, cell.link});
    }
    return lines.size();
}

Fragment row_fragment(const Fonts& fonts, const report::Table& table, const report::Row& row,
                      const TablePlaces& places)
{
    Canvas canvas(fonts);
    const double air = row.group_start ? group_air : 0;
    const double top = air + row_padding;
    std::size_t lines = 1;
    if (!row.anchor.empty())
        canvas.add(AnchorItem{row.anchor, {0, 0}});
    if (row.spanning) {
        const ColumnPlace whole{0, places.width, 0};
        if (!row.cells.empty())
            lines = draw_cell(canvas, row.cells.front(), report::ColumnSpec{}, whole, top);
    } else {
        const std::size_t count = std::min(row.cells.size(), places.columns.size());
        for (std::size_t c = 0; c < count; ++c) {
            auto place = places.columns[c];
            if (row.cells[c].columns > 1) {
                const auto& last = places.columns[std::min(c + row.cells[c].columns, count) - 1];
                place.width = last.x + last.width - place.x;
            }
            lines = std::max(lines, draw_cell(canvas, row.cells[c], table.columns[c], place, top));
        }
    }
    Fragment fragment;
    fragment.height = top + line_height() * static_cast<double>(lines) + row_padding;
    fragment.items = std::move(canvas.items());
    fragment.keep_with_next = row.spanning;
    return fragment;
}

double top_of(const Item& item)
{
    if (const auto* text = std::get_if<TextItem>(&item))
        return text->baseline;
    if (const auto* link = std::get_if<LinkItem>(&item))
        return link->box.y;
    if (const auto* anchor = std::get_if<AnchorItem>(&item))
        return anchor->at.y;
    double top = 0;
    if (const auto* path = std::get_if<PathItem>(&item); path != nullptr && !path->points.empty())
        top = std::ranges::min(path->points, {}, &Position::y).y;
    return top;
}

// A row that would fill most of a page in pieces of whole lines; a link stays with its first line.
std::vector<Fragment> pieces_of(Fragment row, double first_line)
{
    if (row.height <= tallest_row)
        return {std::move(row)};
    const double step = line_height() * std::floor(tallest_row / line_height());
    std::vector<Fragment> pieces;
    for (double from = 0, to = first_line + step; from < row.height; from = to, to += step) {
        Fragment piece;
        piece.height = std::min(to, row.height) - from;
        for (auto& item : row.items) {
            const double y = top_of(item);
            if (y < from || y >= to)
                continue;
            if (auto* link = std::get_if<LinkItem>(&item))
                link->box.height = std::min(link->box.height, to - link->box.y);
            piece.items.push_back(item);
        }
        translate(piece.items, 0, -from);
        pieces.push_back(std::move(piece));
    }
    pieces.back().keep_with_next = row.keep_with_next;
    return pieces;
}

Fragment head_fragment(const Fonts& fonts, const report::Table& table, const TablePlaces& places)
{
    std::vector<std::vector<Line>> heads;
    std::size_t most = 1;
    for (std::size_t c = 0; c < table.columns.size(); ++c) {
        heads.push_back(
            break_lines(fonts, table.columns[c].heading, table_head_style, places.columns[c].width + 0.05));
        most = std::max(most, heads.back().size());
    }
    const double height = 2 * head_padding + line_height() * static_cast<double>(most);
    Canvas canvas(fonts);
    canvas.polygon({{0, 0}, {places.width, 0}, {places.width, height}, {0, height}}, head_fill,
                   "table-head-fill");
    rule(canvas, 0, places.width);
    rule(canvas, height, places.width);
    for (std::size_t c = 0; c < heads.size(); ++c) {
        // Heads stand on the line above the rows.
        const double top = head_padding + line_height() * static_cast<double>(most - heads[c].size());
        draw_lines(canvas, heads[c], places.columns[c], table.columns[c].alignment, 0, top, table_head_style);
    }
    Fragment fragment;
    fragment.height = height;
    fragment.items = std::move(canvas.items());
    fragment.keep_with_next = true;
    return fragment;
}

std::vector<Fragment> caption_fragments(const Fonts& fonts, const report::Table& table, bool continued,
                                        double width_mm)
{
    report::Text text = table.caption;
    if (continued)
        text.push_back({text.empty() ? "continued" : " (continued)", report::Style::plain});
    auto fragments = text_fragments(fonts, text, caption_style, width_mm);
    for (auto& fragment : fragments)
        fragment.keep_with_next = true;
    if (!fragments.empty())
        fragments.back().height += pt(2.25);
    return fragments;
}

// The name of a group above those of its rows that stand on a further page.
Fragment continued_group(const Fonts& fonts, const report::Table& table, const report::Row& row,
                         const TablePlaces& places)
{
    report::Row again;
    again.spanning = true;
    again.cells.push_back({row.cells.front().text, {}, {}, {}});
    again.cells.front().text.push_back({" (continued)", report::Style::grey});
    return row_fragment(fonts, table, again, places);
}

// The fragment above is closed by a rule.
void close(const Fonts& fonts, Fragment& fragment, double width)
{
    Canvas canvas(fonts);
    rule(canvas, fragment.height, width);
    fragment.items.push_back(std::move(canvas.items().front()));
}

}  // namespace

void add_table(Flow& flow, const Fonts& fonts, const report::Table& table, double width_mm)
{
    if (table.rows.empty())
        return;
    const auto places = place_columns(fonts, table, width_mm);
    const std::size_t id = flow.heads.size();
    TableHead head;
    head.width = places.width;
    head.repeated = caption_fragments(fonts, table, true, width_mm);
    head.repeated.push_back(head_fragment(fonts, table, places));
    head.repeated.front().space_before = pt(11.25);  // below a figure that came first
    flow.heads.push_back(std::move(head));

    auto captions = caption_fragments(fonts, table, false, width_mm);
    captions.push_back(head_fragment(fonts, table, places));
    captions.front().space_before = pt(11.25);
    if (!table.anchor.empty())
        captions.front().items.insert(captions.front().items.begin(), AnchorItem{table.anchor, {0, 0}});
    for (auto& fragment : captions)
        flow.fragments.push_back(std::move(fragment));
    std::vector<Fragment> rows;
    double height = 0;
    for (const auto& row : table.rows) {
        rows.push_back(row_fragment(fonts, table, row, places));
        height += rows.back().height;
    }
    const bool whole = height <= kept_whole;
    std::optional<std::size_t> group;
    for (std::size_t r = 0; r < table.rows.size(); ++r) {
        const bool last = r + 1 == table.rows.size();
        const double first_line = row_padding + (table.rows[r].group_start ? group_air : 0);
        const bool names_group = table.rows[r].spanning && !table.rows[r].cells.empty();
        if (names_group)
            group.reset();
        for (auto& piece : pieces_of(std::move(rows[r]), first_line)) {
            piece.table = id;
            piece.group = group;
            flow.fragments.push_back(std::move(piece));
        }
        if (names_group) {
            flow.heads[id].groups.push_back(continued_group(fonts, table, table.rows[r], places));
            group = flow.heads[id].groups.size() - 1;
        }
        auto& end = flow.fragments.back();
        // Neither the first nor the last row stands alone on a page.
        end.keep_with_next = !last && (whole || end.keep_with_next || r == 0 || r + 2 == table.rows.size());
        if (last) {
            close(fonts, end, places.width);
            end.keep_with_next = !table.notes.empty();
        }
    }
    for (std::size_t n = 0; n < table.notes.size(); ++n) {
        auto notes = text_fragments(fonts, table.notes[n], note_style, width_mm);
        if (n == 0 && !notes.empty())
            notes.front().space_before = pt(2.25);
        for (auto& fragment : notes)
            flow.fragments.push_back(std::move(fragment));
    }
    flow.fragments.back().height += pt(4.5);
}

}  // namespace luxdossier::layout
