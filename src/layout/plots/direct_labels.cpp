#include "layout/plots/direct_labels.hpp"

#include <algorithm>

namespace luxdossier::layout {

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
