#include "layout/blocks.hpp"
#include "layout/lines.hpp"

#include <algorithm>

namespace luxdossier::layout {
namespace {

constexpr double arrow_room = 9;  // between two links
constexpr double arrow_head = 1.6;

double baseline_in(const TypeStyle& style)
{
    return pt(style.line_pt / 2 + style.size_pt * 0.36);
}

// An arrow of ink; dashed where the link before it is not established.
void draw_arrow(Canvas& canvas, double from, double to, double y, bool established)
{
    LineStyle style{pt(0.8), ink, {}};
    if (!established)
        style.dashes_mm = {1, 0.8};
    canvas.line({from, y}, {to - arrow_head / 2, y}, style, "chain-arrow");
    canvas.polygon(
        {{to, y}, {to - arrow_head, y - arrow_head / 2.6}, {to - arrow_head, y + arrow_head / 2.6}}, ink,
        "chain-arrow");
}

}  // namespace

void add_chain(Flow& flow, const Fonts& fonts, const report::Chain& chain, double width_mm)
{
    if (chain.links.empty())
        return;
    const auto count = static_cast<double>(chain.links.size());
    const double each = (width_mm - arrow_room * (count - 1)) / count;
    TypeStyle name = caption_style;
    name.role = "chain";
    TypeStyle words = table_style;
    words.tabular = false;
    words.role = "chain";
    Canvas canvas(fonts);
    double bottom = 0;
    for (std::size_t i = 0; i < chain.links.size(); ++i) {
        const auto& link = chain.links[i];
        const double x = static_cast<double>(i) * (each + arrow_room);
        double y = 0;
        const auto draw = [&](const report::Text& text, const TypeStyle& style) {
            for (const auto& line : break_lines(fonts, text, style, each)) {
                draw_line(canvas, line, {x, y + baseline_in(style)}, style);
                y += pt(style.line_pt);
            }
        };
        draw({{link.role, report::Style::plain}}, name);
        canvas.line({x, y + pt(1.5)}, {x + each, y + pt(1.5)}, {pt(0.8), ink, {}}, "chain-rule");
        y += pt(4.5);
        draw(link.text, words);
        bottom = std::max(bottom, y);
        if (i + 1 < chain.links.size())
            draw_arrow(canvas, x + each + 1.2, x + each + arrow_room - 1.2, pt(name.line_pt) + pt(1.5),
                       link.established);
    }
    Fragment fragment;
    fragment.height = bottom;
    fragment.space_before = pt(9);
    fragment.items = std::move(canvas.items());
    fragment.figures.push_back({0, fragment.items.size(), chain.alternative_text});
    flow.fragments.push_back(std::move(fragment));
    for (auto& line : text_fragments(fonts, chain.caption, caption_style, width_mm)) {
        flow.fragments.back().keep_with_next = true;
        flow.fragments.push_back(std::move(line));
    }
    flow.fragments.back().keep_with_next = false;
}

}  // namespace luxdossier::layout
