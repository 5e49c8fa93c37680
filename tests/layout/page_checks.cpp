#include "layout/page_checks.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::test {
namespace {

using layout::Rect;
using layout::TextItem;

// Boxes are logical extents: lines that follow each other may touch.
constexpr double touch_mm = 0.3, slack_mm = 0.05;

bool is_furniture(const TextItem& item)
{
    return item.role == "header" || item.role == "footer";
}

bool is_inside(const Rect& box, const Rect& area)
{
    return box.x >= area.x - slack_mm && box.x + box.width <= area.x + area.width + slack_mm &&
           box.y >= area.y - slack_mm && box.y + box.height <= area.y + area.height + slack_mm;
}

bool meet(const TextItem& one, const TextItem& other)
{
    const auto &a = one.box, &b = other.box;
    // Sub- and superscripts hug their symbol: they may reach into its line, never across its place on it.
    const double room = one.size_pt == other.size_pt ? touch_mm : std::max(a.height, b.height) / 2;
    return a.x + a.width > b.x + 0.01 && b.x + b.width > a.x + 0.01 && a.y + a.height > b.y + room &&
           b.y + b.height > a.y + room;
}

}  // namespace

std::vector<std::string> faults_of(const layout::Pages& pages)
{
    std::vector<std::string> faults;
    for (std::size_t p = 0; p < pages.pages.size(); ++p) {
        const auto& page = pages.pages[p];
        std::vector<const TextItem*> texts;
        for (const auto& item : page.items) {
            if (const auto* text = std::get_if<TextItem>(&item))
                texts.push_back(text);
        }
        for (const auto* text : texts) {
            if (!is_inside(text->box,
                           is_furniture(*text) ? Rect{0, 0, page.width, page.height} : page.text_area))
                faults.push_back(
                    fmt::format("page {}: \"{}\" ({}) leaves the text area", p + 1, text->text, text->role));
        }
        std::ranges::stable_sort(texts, {}, [](const TextItem* text) { return text->box.y; });
        for (std::size_t i = 0; i < texts.size(); ++i) {
            for (std::size_t j = i + 1;
                 j < texts.size() && texts[j]->box.y < texts[i]->box.y + texts[i]->box.height; ++j) {
                if (meet(*texts[i], *texts[j]))
                    faults.push_back(fmt::format("page {}: \"{}\" ({}) meets \"{}\" ({})", p + 1,
                                                 texts[i]->text, texts[i]->role, texts[j]->text,
                                                 texts[j]->role));
            }
        }
    }
    return faults;
}

}  // namespace luxdossier::test
