#include "layout/blocks.hpp"
#include "layout/lines.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace luxdossier::layout {
namespace {

constexpr const char* number_role = "contents-number:";
constexpr const char* only_items = "results relate only to the items tested";

std::string plain_of(const report::Text& text)
{
    std::string words;
    for (const auto& span : text)
        words += span.text;
    return words;
}

// Shortens a furniture line to its room, with an ellipsis: these lines repeat what the cover says in full.
std::string shortened(const Canvas& canvas, std::string words, const TypeStyle& style, double room)
{
    if (canvas.width(words, style) <= room)
        return words;
    while (!words.empty() && canvas.width(words + "…", style) > room) {
        while (!words.empty() && (static_cast<unsigned char>(words.back()) & 0xC0U) == 0x80U)
            words.pop_back();
        if (!words.empty())
            words.pop_back();
    }
    return words + "…";
}

Fragment contents_line(const Fonts& fonts, const report::Heading& heading, double width_mm)
{
    constexpr double indent = 7, number_room = 12;
    const bool chapter = heading.level == 1;
    TypeStyle style = body;
    style.face = chapter ? TextItem::Face::semibold : TextItem::Face::regular;
    Canvas canvas(fonts);
    const double baseline = pt(style.line_pt / 2 + style.size_pt * 0.36);
    const double left = chapter ? 0 : indent;
    const std::string title = shortened(canvas, plain_of(heading.text), style, width_mm - left - number_room);
    canvas.text({left, baseline}, title, style);
    TypeStyle number = style;
    number.tabular = true;
    TextItem page;
    page.text = "0";
    page.box = {width_mm, baseline - 2, 0, 3};
    page.baseline = baseline;
    page.size_pt = number.size_pt;
    page.face = number.face;
    page.colour = ink;
    page.tabular = true;
    page.role = number_role + heading.anchor;
    canvas.add(std::move(page));
    canvas.add(LinkItem{{left, 0, width_mm - left, pt(style.line_pt)}, heading.anchor});
    Fragment fragment;
    fragment.height = pt(style.line_pt);
    fragment.space_before = chapter ? pt(4.5) : 0;
    fragment.keep_with_next = chapter;
    fragment.items = std::move(canvas.items());
    return fragment;
}

std::map<std::string, std::size_t> pages_of_anchors(const Pages& pages)
{
    std::map<std::string, std::size_t> found;
    for (std::size_t p = 0; p < pages.pages.size(); ++p) {
        for (const auto& item : pages.pages[p].items) {
            if (const auto* anchor = std::get_if<AnchorItem>(&item))
                found.emplace(anchor->anchor, p + 1);
        }
    }
    return found;
}

void number_contents(Pages& pages, const Fonts& fonts)
{
    const auto anchors = pages_of_anchors(pages);
    for (auto& page : pages.pages) {
        for (auto& item : page.items) {
            auto* text = std::get_if<TextItem>(&item);
            if (text == nullptr || !text->role.starts_with(number_role))
                continue;
            text->text =
                fmt::format("{}", anchors.at(text->role.substr(std::string_view(number_role).size())));
            const double width = fonts.width(text->text, text->face, text->size_pt, true);
            text->box.x -= width;
            text->box.width = width;
            text->role = "contents-number";
        }
    }
}

void draw_header(Canvas& canvas, const report::Document& document, const PageGeometry& geometry)
{
    TypeStyle style = furniture_style;
    style.role = "header";
    const double room = geometry.text_width();
    std::string right = document.number_and_revision;
    if (!document.draft_reason.empty())
        right = right.empty() ? document.draft_reason : fmt::format("{}; {}", right, document.draft_reason);
    right = shortened(canvas, right, style, room * 0.57);
    TypeStyle right_style = style;
    if (!document.draft_reason.empty()) {  // seen at a glance on any single page
        right_style.face = TextItem::Face::semibold;
        right_style.colour = ink;
    }
    const auto box =
        canvas.text({geometry.right, geometry.header_baseline}, right, right_style, Canvas::Anchor::right);
    const std::string left = shortened(canvas, document.title, style, room - box.width - 6);
    canvas.text({geometry.left, geometry.header_baseline}, left, style);
    const double rule = geometry.header_baseline + pt(4.5);
    canvas.line({geometry.left, rule}, {geometry.right, rule}, {hairline_mm, hairline, {}}, "header-rule");
}

void draw_footer(Canvas& canvas, const report::Document& document, const PageGeometry& geometry,
                 std::size_t page, std::size_t count)
{
    const TypeStyle& style = furniture_style;
    const double middle = (geometry.left + geometry.right) / 2;
    const auto centre =
        canvas.text({middle, geometry.footer_baseline}, only_items, style, Canvas::Anchor::centre);
    canvas.text({geometry.right, geometry.footer_baseline}, fmt::format("page {} of {}", page, count), style,
                Canvas::Anchor::right);
    const std::string left = shortened(canvas, document.laboratory, style, centre.x - geometry.left - 4);
    canvas.text({geometry.left, geometry.footer_baseline}, left, style);
}

}  // namespace

void add_contents(Flow& flow, const Fonts& fonts, const report::Document& document, double width_mm,
                  double page_mm)
{
    const std::size_t first = flow.fragments.size();
    report::Heading title{1, {{"Contents", report::Style::plain}}, {}};
    add_heading(flow, fonts, title, width_mm);
    flow.fragments.back().outline.clear();
    for (const auto& block : document.blocks) {
        const auto* heading = std::get_if<report::Heading>(&block);
        if (heading != nullptr && heading->level <= 2 && !heading->anchor.empty())
            flow.fragments.push_back(contents_line(fonts, *heading, width_mm));
    }
    flow.fragments.back().keep_with_next = false;
    flow.fragments.back().own_page = true;
    // A few lines too many for one page are set closer, down to four fifths.
    double height = pt(2);
    for (std::size_t i = first; i < flow.fragments.size(); ++i)
        height += flow.fragments[i].space_before + flow.fragments[i].height;
    if (const double closer = page_mm / height; closer < 1 && closer >= 0.8)
        for (std::size_t i = first; i < flow.fragments.size(); ++i) {
            flow.fragments[i].space_before *= closer;
            flow.fragments[i].height *= closer;
        }
}

void finish_pages(Pages& pages, const Fonts& fonts, const report::Document& document,
                  const PageGeometry& geometry)
{
    number_contents(pages, fonts);
    for (std::size_t p = 0; p < pages.pages.size(); ++p) {
        Canvas canvas(fonts);
        draw_header(canvas, document, geometry);
        draw_footer(canvas, document, geometry, p + 1, pages.pages.size());
        for (auto& item : canvas.items())
            pages.pages[p].items.push_back(std::move(item));
    }
}

}  // namespace luxdossier::layout
