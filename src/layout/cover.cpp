#include "layout/blocks.hpp"
#include "layout/lines.hpp"
#include "layout/marks.hpp"

#include <algorithm>

namespace luxdossier::layout {
namespace {

constexpr double name_column = 34;

struct Cursor {
    Canvas& canvas;
    double y = 0;
    double width = 0;

    void text(const report::Text& words, const TypeStyle& style, double x = 0)
    {
        for (const auto& line : break_lines(canvas.fonts(), words, style, width - x)) {
            draw_line(canvas, line, {x, y + pt(style.line_pt / 2 + style.size_pt * 0.36)}, style);
            y += pt(style.line_pt);
        }
    }
};

void draw_facts(Cursor& cursor, const std::vector<report::CoverFact>& facts)
{
    for (const auto& fact : facts) {
        const double top = cursor.y;
        cursor.text({{fact.name, report::Style::grey}}, body);
        const double after_name = cursor.y;
        cursor.y = top;
        cursor.text({{fact.value, report::Style::plain}}, body, name_column);
        cursor.y = std::max(cursor.y, after_name) + pt(1.5);
    }
}

void draw_outcome_line(Cursor& cursor, const report::Cover& cover)
{
    if (cover.overall) {
        constexpr double mark = 5.2;
        draw_outcome(cursor.canvas, *cover.overall, {mark / 2, cursor.y + pt(outcome_style.line_pt) / 2},
                     mark);
        std::string words(model::outcome_text(*cover.overall));
        words.front() = static_cast<char>(words.front() - 'a' + 'A');
        cursor.text({{words, report::Style::plain}}, outcome_style, mark + 3);
    }
    cursor.text(cover.overall_sentence, body);
}

// A block drawn through the ordinary fragments, stacked without breaks; returns its height.
double stack(Cursor& cursor, std::vector<Fragment> fragments)
{
    const double top = cursor.y;
    bool first = true;
    for (auto& fragment : fragments) {
        cursor.y += first ? 0 : fragment.space_before;
        first = false;
        translate(fragment.items, 0, cursor.y);
        for (auto& item : fragment.items)
            cursor.canvas.add(std::move(item));
        cursor.y += fragment.height;
    }
    return cursor.y - top;
}

double height_of(const std::vector<Fragment>& fragments)
{
    double height = 0;
    for (const auto& fragment : fragments)
        height += fragment.height + (&fragment == &fragments.front() ? 0 : fragment.space_before);
    return height;
}

std::vector<Fragment> table_fragments(const Fonts& fonts, const report::Table& table, double width)
{
    Flow flow;
    add_table(flow, fonts, table, width);
    return std::move(flow.fragments);
}

}  // namespace

void add_cover(Flow& flow, const Fonts& fonts, const report::Cover& cover, const PageGeometry& geometry)
{
    const double width = geometry.text_width();
    Canvas canvas(fonts);
    Cursor cursor{canvas, 6, width};
    cursor.text({{cover.title, report::Style::plain}}, cover_title);
    cursor.y += pt(4.5);
    cursor.text({{cover.number_line, report::Style::grey}}, section_style);
    cursor.y += pt(13.5);
    draw_facts(cursor, cover.facts);
    cursor.y += pt(13.5);
    draw_outcome_line(cursor, cover);
    cursor.y += pt(9);

    Flow sign_off;
    add_sign_off(sign_off, fonts, cover.sign_off, width);
    std::vector<Fragment> statements;
    for (const auto& statement : cover.statements) {
        for (auto& fragment : text_fragments(fonts, statement, note_style, width))
            statements.push_back(std::move(fragment));
    }
    constexpr double gap = pt(9);
    const double page_height = geometry.bottom - geometry.top - 0.5;
    const double foot_height = height_of(sign_off.fragments) + gap + height_of(statements);
    if (cover.worst_margins) {
        report::Table table = *cover.worst_margins;
        auto fragments = table_fragments(fonts, table, width);
        while (!table.rows.empty() && cursor.y + height_of(fragments) + gap + foot_height > page_height) {
            table.rows.pop_back();
            fragments = table_fragments(fonts, table, width);
        }
        if (!table.rows.empty())
            stack(cursor, std::move(fragments));
    }
    if (cursor.y + gap + foot_height > page_height) {
        // Facts that fill the page push statements and sign-off to the next one.
        Fragment facts;
        facts.height = std::min(cursor.y, page_height);
        facts.items = std::move(canvas.items());
        flow.fragments.push_back(std::move(facts));
        for (auto& fragment : statements)
            flow.fragments.push_back(std::move(fragment));
        sign_off.fragments.front().space_before = gap;
        for (auto& fragment : sign_off.fragments)
            flow.fragments.push_back(std::move(fragment));
        flow.fragments.back().own_page = true;
        return;
    }
    // Statements and sign-off stand at the foot of the page.
    cursor.y = std::max(cursor.y + gap, page_height - foot_height);
    stack(cursor, std::move(statements));
    cursor.y += gap;
    stack(cursor, std::move(sign_off.fragments));

    Fragment fragment;
    fragment.height = cursor.y;
    fragment.items = std::move(canvas.items());
    fragment.own_page = true;
    flow.fragments.push_back(std::move(fragment));
}

}  // namespace luxdossier::layout
