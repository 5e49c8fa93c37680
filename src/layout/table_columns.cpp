#include "layout/table_columns.hpp"

#include "layout/lines.hpp"
#include "layout/strip.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace luxdossier::layout {
namespace {

constexpr double narrowest_text = 9;  // a text column is never narrower: about five characters
constexpr double longest_whole_word = 20;
constexpr double rounding_room = 0.2;
constexpr double longest_whole_head =
    22;                              // of a column of figures: a longer word is broken where room is short
constexpr double heading_room = 22;  // a heading up to this long stands on one line where there is room

// What one column asks for.
struct Wish {
    double natural = 0;            // everything on one line
    double word = 0;               // widest word on a line of its own
    double floor = 0;              // the least it can live with
    double before = 0, after = 0;  // decimal columns
    double head = 0;               // heading on one line
    bool gives = true;             // text that may wrap
};

double natural_width(const Fonts& fonts, const report::Text& text, const TypeStyle& style)
{
    return single_line(fonts, text, style).width + rounding_room;
}

void wish_for_cell(Wish& wish, const Fonts& fonts, const report::ColumnSpec& spec, const report::Cell& cell)
{
    const double mark = cell.outcome ? outcome_mark_room : 0;
    if (cell.strip) {
        wish.natural = std::max(wish.natural, strip_width);
        wish.word = std::max(wish.word, strip_width);
        wish.floor = std::max(wish.floor, strip_width);
        return;
    }
    if (spec.alignment == report::Alignment::decimal) {
        const auto parts = decimal_parts(cell.text);
        if (parts.numeric) {
            wish.before = std::max(wish.before, single_line(fonts, parts.before, table_style).width);
            wish.after = std::max(wish.after, single_line(fonts, parts.after, table_style).width);
            return;
        }
    }
    const double whole_line = mark + natural_width(fonts, cell.text, table_style);
    wish.natural = std::max(wish.natural, whole_line);
    // Figures and outcomes are never wrapped, words are.
    const bool whole_cell = cell.outcome || spec.alignment != report::Alignment::left;
    const double word = whole_cell ? whole_line : mark + widest_word(fonts, cell.text, table_style);
    wish.word = std::max(wish.word, word);
    const bool whole =
        std::ranges::any_of(cell.text, [](const auto& span) { return span.style == report::Style::small; });
    if (cell.outcome || whole)  // a hash is searched for as one word
        wish.floor = std::max(wish.floor, word);
}

Wish wish_of(const Fonts& fonts, const report::Table& table, std::size_t column)
{
    const auto& spec = table.columns[column];
    Wish wish;
    for (const auto& row : table.rows) {
        if (!row.spanning && column < row.cells.size() && row.cells[column].columns == 1)
            wish_for_cell(wish, fonts, spec, row.cells[column]);
    }
    const double numbers = wish.before + wish.after > 0 ? wish.before + wish.after + rounding_room : 0;
    const double head = widest_word(fonts, spec.heading, table_head_style);
    const bool figures = spec.alignment != report::Alignment::left;
    wish.gives = !figures && wish.floor < strip_width;
    wish.natural = std::max({wish.natural, numbers, head});
    const double whole_head = natural_width(fonts, spec.heading, table_head_style) + 0.2;
    wish.head = whole_head;
    if (whole_head <= heading_room)
        wish.natural = std::max(wish.natural, whole_head);
    wish.floor = std::max({wish.floor, numbers, figures ? wish.word : narrowest_text,
                           figures ? std::min(head, longest_whole_head) : 0});
    wish.word = std::max({wish.word, numbers, head});
    wish.floor = std::min(wish.floor, wish.natural);
    return wish;
}

double total(const std::vector<double>& widths)
{
    return std::accumulate(widths.begin(), widths.end(), 0.0);
}

// Widths between `low` and `high` that add up to `room`, each column giving in proportion to what it can
// give.
std::vector<double> between(const std::vector<double>& low, const std::vector<double>& high, double room)
{
    const double least = total(low), most = total(high);
    const double share = most > least ? std::clamp((room - least) / (most - least), 0.0, 1.0) : 0.0;
    std::vector<double> widths;
    for (std::size_t i = 0; i < low.size(); ++i)
        widths.push_back(low[i] + (high[i] - low[i]) * share);
    return widths;
}

// Columns that want less than an equal part of what text columns share get all they want; the longest give
// way.
std::vector<double> levelled(const std::vector<double>& low, const std::vector<double>& high, double room)
{
    double cap_low = 0, cap_high = *std::ranges::max_element(high);
    const auto at_cap = [&](double cap) {
        std::vector<double> widths;
        for (std::size_t i = 0; i < low.size(); ++i)
            widths.push_back(std::clamp(cap, low[i], std::max(low[i], high[i])));
        return widths;
    };
    constexpr int halvings = 50;
    for (int i = 0; i < halvings; ++i) {
        const double cap = (cap_low + cap_high) / 2;
        (total(at_cap(cap)) > room ? cap_high : cap_low) = cap;
    }
    return at_cap(cap_low);
}

// Widths on one line of the texts that may wrap, row by row; 0 where a cell never wraps.
using Naturals = std::vector<std::vector<double>>;

Naturals naturals_of(const Fonts& fonts, const report::Table& table, const std::vector<Wish>& wishes)
{
    Naturals naturals;
    for (const auto& row : table.rows) {
        if (row.spanning)
            continue;
        auto& widths = naturals.emplace_back(table.columns.size(), 0.0);
        for (std::size_t c = 0; c < std::min(row.cells.size(), widths.size()); ++c) {
            if (wishes[c].gives && !row.cells[c].strip && row.cells[c].columns == 1)
                widths[c] = natural_width(fonts, row.cells[c].text, table_style) +
                            (row.cells[c].outcome ? outcome_mark_room : 0);
        }
    }
    return naturals;
}

// How many lines the rows would take, about: a wrapped line ends half a word early.
std::size_t lines_of(const Naturals& naturals, const std::vector<double>& widths)
{
    constexpr double ragged = 3;
    std::size_t lines = 0;
    for (const auto& row : naturals) {
        double most = 1;
        for (std::size_t c = 0; c < widths.size(); ++c) {
            if (row[c] > widths[c])
                most = std::max(most, std::ceil(row[c] / std::max(ragged, widths[c] - ragged)));
        }
        lines += static_cast<std::size_t>(most);
    }
    return lines;
}

// Moves width from column to column as long as that makes the table shorter.
std::vector<double> shortened(const Naturals& naturals, const std::vector<bool>& gives,
                              std::vector<double> widths, const std::vector<double>& low,
                              const std::vector<double>& high)
{
    std::size_t lines = lines_of(naturals, widths);
    for (const double step : {12.0, 6.0, 3.0, 1.5}) {
        for (bool better = true; better;) {
            better = false;
            for (std::size_t from = 0; from < widths.size(); ++from) {
                for (std::size_t to = 0; to < widths.size(); ++to) {
                    if (from == to || !gives[from] || !gives[to] || widths[from] - step < low[from] ||
                        widths[to] >= high[to])
                        continue;
                    auto moved = widths;
                    moved[from] -= step;
                    moved[to] += step;
                    const std::size_t fewer = lines_of(naturals, moved);
                    if (fewer >= lines)
                        continue;
                    lines = fewer;
                    widths = std::move(moved);
                    better = true;
                }
            }
        }
    }
    return widths;
}

std::vector<double> settle(const std::vector<Wish>& wishes, const std::vector<report::ColumnSpec>& specs,
                           const Naturals& naturals, double room)
{
    std::vector<double> natural, word, floor;
    std::vector<bool> gives;
    for (const auto& wish : wishes) {
        natural.push_back(wish.natural);
        gives.push_back(wish.gives);
        word.push_back(std::min(wish.word, wish.natural));
        floor.push_back(wish.floor);
    }
    if (total(natural) <= room) {
        // Spare room goes to headings of many lines first.
        constexpr double most_lines = 3, ragged_end = 5;
        auto of_heads = natural;
        for (std::size_t i = 0; i < wishes.size(); ++i)
            of_heads[i] = std::max(natural[i], wishes[i].head / most_lines + ragged_end);
        natural = between(natural, of_heads, std::min(room, total(of_heads)));
        // Then to text that asked for weight, so that the rules span the page where the table
        // nearly does.
        double weight = 0;
        for (std::size_t i = 0; i < specs.size(); ++i)
            weight += wishes[i].gives ? specs[i].weight : 0;
        const double spare = room - total(natural);
        if (spare < 0.4 * room && weight > 0) {
            for (std::size_t i = 0; i < specs.size(); ++i)
                natural[i] += wishes[i].gives ? spare * specs[i].weight / weight : 0;
        }
        return natural;
    }
    if (total(word) <= room)
        return shortened(naturals, gives, levelled(word, natural, room), word, natural);
    // Short words are broken only where nothing else helps.
    std::vector<double> kind;
    for (std::size_t i = 0; i < floor.size(); ++i)
        kind.push_back(std::max(floor[i], std::min(word[i], longest_whole_word)));
    return between(total(kind) <= room ? kind : floor, word, room);
}

}  // namespace

DecimalParts decimal_parts(const report::Text& text)
{
    DecimalParts parts;
    bool after = false;
    for (const auto& span : text) {
        parts.numeric = parts.numeric || span.text.find_first_of("0123456789") != std::string::npos;
        if (after) {
            parts.after.push_back(span);
            continue;
        }
        // The mark of the number itself: the first point, or where there is none the end of the first number.
        auto split = span.text.find('.');
        if (split == std::string::npos) {
            split = span.text.find(" ±");
            if (split == std::string::npos)
                split = span.style == report::Style::superscript ? 0 : span.text.size();
        }
        if (split > 0)
            parts.before.push_back({span.text.substr(0, split), span.style});
        if (split < span.text.size()) {
            parts.after.push_back({span.text.substr(split), span.style});
            after = true;
        }
    }
    return parts;
}

TablePlaces place_columns(const Fonts& fonts, const report::Table& table, double width_mm)
{
    std::vector<Wish> wishes;
    for (std::size_t i = 0; i < table.columns.size(); ++i)
        wishes.push_back(wish_of(fonts, table, i));
    const double gaps =
        column_gap * static_cast<double>(table.columns.empty() ? 0 : table.columns.size() - 1);
    const auto widths = settle(wishes, table.columns, naturals_of(fonts, table, wishes), width_mm - gaps);
    TablePlaces places;
    double x = 0;
    for (std::size_t i = 0; i < widths.size(); ++i) {
        // Numbers stand at the right of their column, under the end of the heading.
        places.columns.push_back({x, widths[i], widths[i] - wishes[i].after});
        x += widths[i] + column_gap;
    }
    places.width = std::max(0.0, x - column_gap);
    return places;
}

}  // namespace luxdossier::layout
