#include "layout/blocks.hpp"

#include "layout/lines.hpp"

#include <algorithm>

namespace luxdossier::layout {
namespace {

constexpr double paragraph_gap = pt(4.5);

double baseline_in(const TypeStyle& style)
{
    // Capitals stand centred in the line: 0.72 em high.
    return pt(style.line_pt / 2 + style.size_pt * 0.36);
}

void append(Flow& flow, std::vector<Fragment> fragments)
{
    for (auto& fragment : fragments)
        flow.fragments.push_back(std::move(fragment));
}

Fragment line_fragment(const Fonts& fonts, const Line& line, const TypeStyle& style, double indent_mm)
{
    Canvas canvas(fonts);
    draw_line(canvas, line, {indent_mm, baseline_in(style)}, style);
    Fragment fragment;
    fragment.height = pt(style.line_pt);
    fragment.items = std::move(canvas.items());
    return fragment;
}

const TypeStyle& heading_style(int level)
{
    return level == 1 ? chapter_style : level == 2 ? section_style : subsection_style;
}

double heading_gap(int level)
{
    return level == 1 ? pt(27) : level == 2 ? pt(13.5) : pt(9);
}

}  // namespace

std::vector<Fragment> text_fragments(const Fonts& fonts, const report::Text& text, const TypeStyle& style,
                                     double width_mm, double indent_mm)
{
    std::vector<Fragment> fragments;
    const auto lines = break_lines(fonts, text, style, width_mm - indent_mm);
    for (std::size_t i = 0; i < lines.size(); ++i) {
        fragments.push_back(line_fragment(fonts, lines[i], style, indent_mm));
        const bool first = i == 0, last_but_one = i + 2 == lines.size();
        fragments.back().keep_with_next = i + 1 < lines.size() && (first || last_but_one);
    }
    return fragments;
}

void add_heading(Flow& flow, const Fonts& fonts, const report::Heading& heading, double width_mm)
{
    auto fragments = text_fragments(fonts, heading.text, heading_style(heading.level), width_mm);
    if (fragments.empty())
        return;
    for (auto& fragment : fragments) {
        fragment.keep_with_next = true;
        fragment.stays = heading.level <= 2;
    }
    auto& first = fragments.front();
    first.space_before = heading_gap(heading.level);
    if (!heading.anchor.empty())
        first.items.insert(first.items.begin(), AnchorItem{heading.anchor, {0, 0}});
    if (heading.level <= 2) {
        for (const auto& span : heading.text)
            first.outline += span.text;
        first.outline_level = heading.level;
    }
    append(flow, std::move(fragments));
}

void add_paragraph(Flow& flow, const Fonts& fonts, const report::Paragraph& paragraph, double width_mm)
{
    auto fragments = text_fragments(fonts, paragraph.text, paragraph.note ? note_style : body, width_mm);
    if (fragments.empty())
        return;
    fragments.front().space_before = paragraph_gap;
    // A paragraph that ends in a colon leads to what follows.
    const auto& last_span = paragraph.text.back().text;
    if (last_span.ends_with(':'))
        fragments.back().keep_with_next = true;
    append(flow, std::move(fragments));
}

void add_formula(Flow& flow, const Fonts& fonts, const report::Formula& formula, double width_mm)
{
    constexpr double indent = 8;
    auto fragments = text_fragments(fonts, formula.text, body, width_mm, indent);
    if (fragments.empty())
        return;
    fragments.front().space_before = paragraph_gap;
    append(flow, std::move(fragments));
}

void add_bullets(Flow& flow, const Fonts& fonts, const report::Bullets& bullets, double width_mm)
{
    constexpr double indent = 4, kept_whole = 40;  // mm; no figure comes between the items of a short list
    const auto begin = flow.fragments.size();
    bool first_item = true;
    for (const auto& item : bullets.items) {
        auto fragments = text_fragments(fonts, item, body, width_mm, indent);
        if (fragments.empty())
            continue;
        fragments.front().space_before = first_item ? paragraph_gap : pt(2.25);
        first_item = false;
        Canvas canvas(fonts);
        canvas.text({0, baseline_in(body)}, "–", body);
        auto& items = fragments.front().items;
        items.insert(items.begin(), canvas.items().begin(), canvas.items().end());
        append(flow, std::move(fragments));
    }
    double height = 0;
    for (auto at = begin; at < flow.fragments.size(); ++at)
        height += flow.fragments[at].space_before + flow.fragments[at].height;
    for (auto at = begin; height <= kept_whole && at + 1 < flow.fragments.size(); ++at)
        flow.fragments[at].keep_with_next = true;
}

void add_facts(Flow& flow, const Fonts& fonts, const report::Facts& facts, double width_mm)
{
    constexpr double narrowest = 22, gap = 4;
    double indent = narrowest;
    for (const auto& fact : facts.facts)
        indent = std::max(indent, fonts.width(fact.name, body.face, body.size_pt, body.tabular) + gap);
    bool first_fact = true;
    for (const auto& fact : facts.facts) {
        auto fragments = text_fragments(fonts, fact.value, body, width_mm, indent);
        if (fragments.empty())
            continue;
        fragments.front().space_before = first_fact ? pt(2.25) : 0;
        first_fact = false;
        Canvas canvas(fonts);
        TypeStyle name = body;
        name.colour = grey;
        canvas.text({0, baseline_in(body)}, fact.name, name);
        auto& items = fragments.front().items;
        items.insert(items.begin(), canvas.items().begin(), canvas.items().end());
        append(flow, std::move(fragments));
    }
}

void add_caution(Flow& flow, const Fonts& fonts, const report::Caution& caution, double width_mm)
{
    constexpr double indent = 8, triangle = 3.6;
    report::Text text;
    if (!caution.title.empty())
        text.push_back({caution.title + " ", report::Style::semibold});
    text.insert(text.end(), caution.text.begin(), caution.text.end());
    auto fragments = text_fragments(fonts, text, body, width_mm, indent);
    if (fragments.empty())
        return;
    Canvas canvas(fonts);
    const double bottom = baseline_in(body) + 0.1;
    PathItem outline;
    outline.points = {{triangle / 2, bottom - 0.87 * triangle}, {triangle, bottom}, {0, bottom}};
    outline.closed = true;
    outline.line_width_mm = pt(0.8);
    outline.stroke = ink;
    outline.role = "caution";
    canvas.add(std::move(outline));
    canvas.line({triangle / 2, bottom - 2.05}, {triangle / 2, bottom - 1.0}, {pt(0.9), ink, {}}, "caution");
    canvas.circle({triangle / 2, bottom - 0.55}, 0.17, {0, ink, {}}, true, "caution");
    auto& items = fragments.front().items;
    items.insert(items.begin(), canvas.items().begin(), canvas.items().end());
    fragments.front().space_before = paragraph_gap;
    for (std::size_t i = 0; i + 1 < fragments.size(); ++i)
        fragments[i].keep_with_next = true;
    append(flow, std::move(fragments));
}

void add_end_mark(Flow& flow, const Fonts& fonts, const report::EndMark& mark, double width_mm)
{
    Canvas canvas(fonts);
    const double baseline = baseline_in(body);
    const double half = canvas.width(mark.text, body) / 2 + 4;
    const double middle = width_mm / 2, level = baseline - pt(3);
    canvas.line({middle - half - 20, level}, {middle - half, level}, {hairline_mm, hairline, {}}, "rule");
    canvas.line({middle + half, level}, {middle + half + 20, level}, {hairline_mm, hairline, {}}, "rule");
    canvas.text({middle, baseline}, mark.text, body, Canvas::Anchor::centre);
    Fragment fragment;
    fragment.height = pt(body.line_pt);
    fragment.space_before = pt(27);
    fragment.items = std::move(canvas.items());
    flow.fragments.push_back(std::move(fragment));
}

void add_sign_off(Flow& flow, const Fonts& fonts, const report::SignOffBlock& block, double width_mm)
{
    constexpr double row_height = 15, signature_from = 0.56, date_from = 0.86;
    std::vector<model::SignOff> roles = block.roles;
    if (roles.empty())
        roles.push_back({"Authorised by (not stated)", "", ""});
    bool first = true;
    for (const auto& role : roles) {
        Canvas canvas(fonts);
        const double baseline = row_height - pt(6);
        std::string name = role.name;
        if (!role.function.empty())
            name += (name.empty() ? "" : ", ") + role.function;
        const auto heads = break_lines(fonts, {{role.role, report::Style::semibold}}, body, width_mm * 0.26);
        const auto names = break_lines(fonts, {{name, report::Style::plain}}, body, width_mm * 0.26);
        const auto draw = [&](const std::vector<Line>& lines, double x) {
            const double top =
                baseline - pt(body.line_pt) * static_cast<double>(lines.empty() ? 0 : lines.size() - 1);
            for (std::size_t i = 0; i < lines.size(); ++i)
                draw_line(canvas, lines[i], {x, top + pt(body.line_pt) * static_cast<double>(i)}, body);
        };
        draw(heads, 0);
        draw(names, width_mm * 0.28);
        const double rule = baseline + pt(3);
        canvas.line({width_mm * signature_from, rule}, {width_mm * (date_from - 0.02), rule},
                    {hairline_mm, grey, {}}, "rule");
        canvas.line({width_mm * date_from, rule}, {width_mm, rule}, {hairline_mm, grey, {}}, "rule");
        if (first) {
            TypeStyle label = note_style;
            canvas.text({width_mm * signature_from, pt(8)}, "Signature", label);
            canvas.text({width_mm * date_from, pt(8)}, "Date", label);
        }
        first = false;
        Fragment fragment;
        fragment.height = row_height;
        fragment.items = std::move(canvas.items());
        fragment.keep_with_next = &role != &roles.back();
        flow.fragments.push_back(std::move(fragment));
    }
}

}  // namespace luxdossier::layout
