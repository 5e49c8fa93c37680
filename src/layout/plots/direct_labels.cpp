#include "layout/plots/direct_labels.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <fmt/format.h>

namespace luxdossier::layout {
namespace {

constexpr double one_place_mm = 0.6;

void join(std::vector<DirectLabel>& labels, std::size_t first)
{
    auto& kept = labels[first];
    auto& next = labels[first + 1];
    const auto add = [&](const std::string& name) {
        if (name != kept.text && std::ranges::find(kept.further, name) == kept.further.end())
            kept.further.push_back(name);
    };
    add(next.text);
    for (const auto& name : next.further)
        add(name);
    labels.erase(labels.begin() + static_cast<std::ptrdiff_t>(first) + 1);
}

bool starts_character(char byte)
{
    return (static_cast<unsigned char>(byte) & 0xC0U) != 0x80U;
}

/// Head and tail of a name around an ellipsis, the head twice as long: ids differ at either end, most of them
/// where their first number stands.
std::string shortened(const Canvas& canvas, const std::string& name, const TypeStyle& style, double width_mm)
{
    if (canvas.width(name, style) <= width_mm)
        return name;
    for (std::size_t keep = name.size() / 3; keep > 0; --keep) {
        std::size_t head = 2 * keep, tail = name.size() - keep;
        while (head > 0 && !starts_character(name[head]))
            --head;
        while (tail < name.size() && !starts_character(name[tail]))
            ++tail;
        auto text = name.substr(0, head) + "…" + name.substr(tail);
        if (canvas.width(text, style) <= width_mm)
            return text;
    }
    return "…";
}

}  // namespace

void join_limits(std::vector<DirectLabel>& labels, std::size_t most)
{
    std::ranges::stable_sort(labels, {}, &DirectLabel::wanted_y);
    for (;;) {
        std::size_t nearest = labels.size();
        double gap = std::numeric_limits<double>::infinity();
        for (std::size_t i = 0; i + 1 < labels.size(); ++i) {
            const double distance = labels[i + 1].wanted_y - labels[i].wanted_y;
            if (labels[i].limit && labels[i + 1].limit && distance < gap) {
                gap = distance;
                nearest = i;
            }
        }
        if (nearest == labels.size() || (gap > one_place_mm && labels.size() <= most))
            return;
        join(labels, nearest);
    }
}

std::string label_words(const Canvas& canvas, const DirectLabel& label, const TypeStyle& style,
                        double width_mm)
{
    std::string words = label.text;
    for (std::size_t i = 0; i < label.further.size(); ++i) {
        const auto rest = label.further.size() - i - 1;
        const auto more = words + ", " + label.further[i];
        const auto whole = rest > 0 ? fmt::format("{} and {} more", more, rest) : more;
        if (canvas.width(whole, style) > width_mm) {
            const auto tail = fmt::format(" and {} more", rest + 1);
            return shortened(canvas, words, style, width_mm - canvas.width(tail, style)) + tail;
        }
        words = more;
    }
    return shortened(canvas, words, style, width_mm);
}

void move_apart(std::vector<DirectLabel>& labels, double spacing, double top, double bottom)
{
    if (labels.empty())
        return;
    std::ranges::stable_sort(labels, {}, &DirectLabel::wanted_y);
    const auto gaps = static_cast<double>(labels.size() - 1);
    if (gaps > 0 && gaps * spacing > bottom - top)
        spacing = (bottom - top) / gaps;
    // In the frame y_i - i * spacing the labels must not descend: isotonic regression.
    struct Block {
        double sum;
        std::size_t count;
        [[nodiscard]] double mean() const { return sum / static_cast<double>(count); }
    };
    std::vector<Block> blocks;
    for (std::size_t i = 0; i < labels.size(); ++i) {
        blocks.push_back({labels[i].wanted_y - static_cast<double>(i) * spacing, 1});
        while (blocks.size() > 1 && blocks[blocks.size() - 2].mean() > blocks.back().mean()) {
            const Block last = blocks.back();
            blocks.pop_back();
            blocks.back().sum += last.sum;
            blocks.back().count += last.count;
        }
    }
    const double highest = std::max(top, bottom - gaps * spacing);
    std::size_t i = 0;
    for (const auto& block : blocks) {
        for (std::size_t n = 0; n < block.count; ++n, ++i)
            labels[i].y = std::clamp(block.mean(), top, highest) + static_cast<double>(i) * spacing;
    }
}

}  // namespace luxdossier::layout
