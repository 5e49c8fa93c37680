#include "layout/fragment.hpp"

#include <algorithm>

namespace luxdossier::layout {
namespace {

constexpr double tolerance_mm = 1e-6;
constexpr double rule_room = pt(1);  // for the rule that closes a broken table

class Filler {
public:
    Filler(const Flow& flow, const PageGeometry& geometry) : flow_(flow), geometry_(geometry) { order(); }

    Pages fill()
    {
        new_page();
        while (!queue_.empty())
            place_group();
        drop_empty_last_page();
        return std::move(pages_);
    }

private:
    void order()
    {
        for (std::size_t i = flow_.fragments.size(); i-- > 0;)
            queue_.push_back(i);  // the next one is at the back
    }

    [[nodiscard]] const Fragment& fragment(std::size_t back = 0) const
    {
        return flow_.fragments[queue_[queue_.size() - 1 - back]];
    }

    [[nodiscard]] double bottom() const { return geometry_.bottom; }
    [[nodiscard]] bool at_top() const { return y_ <= geometry_.top + tolerance_mm; }

    // How many of the next fragments must stand together, and how high they are.
    [[nodiscard]] std::size_t group_size(std::size_t from = 0) const
    {
        std::size_t count = 1;
        while (from + count < queue_.size() && fragment(from + count - 1).keep_with_next &&
               !fragment(from + count).page_before)
            ++count;
        return count;
    }

    [[nodiscard]] double group_height(std::size_t from, std::size_t count) const
    {
        double height = 0;
        for (std::size_t i = from; i < from + count; ++i)
            height += fragment(i).height + (i == from && at_top() ? 0 : fragment(i).space_before);
        return height;
    }

    void place_group()
    {
        if (fragment().page_before && !at_top())
            new_page();
        std::size_t count = group_size();
        const bool fits = y_ + group_height(0, count) <= bottom() - rule_room;
        if (!fits && !at_top()) {
            if (fragment().movable && bring_forward(count))
                return;
            break_page(fragment().table);
        }
        // A group longer than a page is broken where it must.
        while (count-- > 0) {
            if (y_ + fragment().space_before + fragment().height > bottom() + tolerance_mm && !at_top())
                break_page(fragment().table);
            const bool own_page = fragment().own_page;
            place(fragment());
            queue_.pop_back();
            if (own_page && !queue_.empty())
                new_page();
        }
    }

    // A figure that does not fit lets what follows it pass, up to the next heading, as far as that fits on
    // this page.
    bool bring_forward(std::size_t group)
    {
        std::size_t from = group;
        while (from < queue_.size() && fragment(from).movable)
            from += group_size(from);
        if (from >= queue_.size() || fragment(from).stays || fragment(from).page_before ||
            fragment(from).table)
            return false;
        const std::size_t count = group_size(from);
        for (std::size_t i = from; i < from + count; ++i) {
            if (fragment(i).stays || fragment(i).table)
                return false;
        }
        if (y_ + group_height(from, count) > bottom() - rule_room)
            return false;
        for (std::size_t i = 0; i < count; ++i) {
            const auto index = static_cast<std::ptrdiff_t>(queue_.size() - 1 - from);
            place(fragment(from));
            queue_.erase(queue_.begin() + index);
        }
        return true;
    }

    void place(const Fragment& item)
    {
        if (!at_top())
            y_ += item.space_before;
        auto items = item.items;
        translate(items, geometry_.left, y_);
        auto& page = pages_.pages.back();
        for (auto figure : item.figures) {
            figure.first += page.items.size();
            figure.last += page.items.size();
            page.figures.push_back(std::move(figure));
        }
        page.items.insert(page.items.end(), std::make_move_iterator(items.begin()),
                          std::make_move_iterator(items.end()));
        if (!item.outline.empty())
            pages_.outline.push_back({item.outline, item.outline_level, pages_.pages.size() - 1, y_});
        y_ += item.height;
        last_table_ = item.table;
    }

    void break_page(std::optional<std::size_t> table)
    {
        // Inside a table: a rule below the last row, and the head again on the next page.
        const bool inside = table && last_table_ == table;
        if (inside) {
            PathItem rule;
            rule.points = {{geometry_.left, y_}, {geometry_.left + flow_.heads[*table].width, y_}};
            rule.line_width_mm = hairline_mm;
            rule.stroke = hairline;
            rule.role = "rule";
            pages_.pages.back().items.emplace_back(std::move(rule));
        }
        new_page();
        if (!inside)
            return;
        for (const auto& head : flow_.heads[*table].repeated)
            place(head);
    }

    void new_page()
    {
        Page page;
        page.width = geometry_.width;
        page.height = geometry_.height;
        page.text_area = {geometry_.left, geometry_.top, geometry_.text_width(),
                          geometry_.bottom - geometry_.top};
        pages_.pages.push_back(std::move(page));
        y_ = geometry_.top;
    }

    void drop_empty_last_page()
    {
        if (pages_.pages.size() > 1 && pages_.pages.back().items.empty())
            pages_.pages.pop_back();
    }

    const Flow& flow_;
    const PageGeometry& geometry_;
    std::vector<std::size_t> queue_;
    Pages pages_;
    double y_ = 0;
    std::optional<std::size_t> last_table_;
};

}  // namespace

Pages paginate(const Flow& flow, const PageGeometry& geometry)
{
    return Filler(flow, geometry).fill();
}

}  // namespace luxdossier::layout
