#include "layout/fragment.hpp"

#include <algorithm>
#include <set>

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
        const bool fits = y_ + head_height(fragment()) + group_height(0, count) <= bottom() - rule_room;
        if (!fits && !at_top()) {
            if (fragment().movable && bring_forward(count))
                return;
            break_page();
        }
        // A group longer than a page is broken where it must.
        while (count-- > 0) {
            if (y_ + fragment().space_before + fragment().height > bottom() + tolerance_mm && !at_top())
                break_page();
            const bool own_page = fragment().own_page;
            place_next();
            if (own_page && !queue_.empty())
                new_page();
        }
    }

    // A figure that does not fit lets what follows it pass, up to the next chapter or section, as far as that
    // fits on this page: lines of text, whole tables, or a good part of a long one.
    bool bring_forward(std::size_t group)
    {
        std::size_t from = group;
        while (from < queue_.size() && fragment(from).movable)
            from += group_size(from);
        if (from >= queue_.size())
            return false;
        const std::size_t count = passing(from);
        for (std::size_t i = 0; i < count; ++i) {
            const std::size_t index = queue_[queue_.size() - 1 - from];
            queue_.erase(queue_.end() - 1 - static_cast<std::ptrdiff_t>(from));
            queue_.push_back(index);
            place_next();
        }
        return count > 0;
    }

    // How many fragments from there fit on this page and may come before a figure; 0: none.
    [[nodiscard]] std::size_t passing(std::size_t from) const
    {
        constexpr std::size_t fewest_rows = 6;
        std::size_t end = from, rows = 0;
        std::optional<std::size_t> table;
        double height = 0;
        do {
            const std::size_t count = group_size(end);
            for (std::size_t i = end; i < end + count; ++i) {
                if (fragment(i).stays || fragment(i).movable || fragment(i).page_before ||
                    fragment(i).own_page)
                    return 0;
            }
            const double more = (end == from ? head_height(fragment(end)) : 0) + group_height(end, count);
            if (y_ + height + more > bottom() - rule_room)
                return rows >= fewest_rows ? end - from : 0;
            for (std::size_t i = end; i < end + count; ++i) {
                table = fragment(i).table ? fragment(i).table : table;
                rows += fragment(i).table ? 1U : 0U;
            }
            height += more;
            end += count;
        } while (table && end < queue_.size() && fragment(end).table == table);
        return end - from;
    }

    // Rows whose table was begun and left stand below its head once more.
    [[nodiscard]] bool needs_head(const Fragment& item) const
    {
        return item.table && last_table_ != item.table && begun_.contains(*item.table);
    }

    [[nodiscard]] double head_height(const Fragment& item) const
    {
        double height = 0;
        if (needs_head(item)) {
            for (const auto& head : flow_.heads[*item.table].repeated)
                height += head.height + (height == 0 && at_top() ? 0 : head.space_before);
            if (item.group)
                height += flow_.heads[*item.table].groups[*item.group].height;
        }
        return height;
    }

    void place_next()
    {
        const auto& item = fragment();
        if (needs_head(item)) {
            for (const auto& head : flow_.heads[*item.table].repeated)
                place(head);
            if (item.group)
                place(flow_.heads[*item.table].groups[*item.group]);
        }
        place(item);
        if (item.table)
            begun_.insert(*item.table);
        queue_.pop_back();
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

    // Below the last row of a table that goes on a rule closes it for this page.
    void break_page()
    {
        const bool goes_on = last_table_ && std::ranges::any_of(queue_, [&](std::size_t index) {
                                 return flow_.fragments[index].table == last_table_;
                             });
        if (goes_on) {
            PathItem rule;
            rule.points = {{geometry_.left, y_}, {geometry_.left + flow_.heads[*last_table_].width, y_}};
            rule.line_width_mm = hairline_mm;
            rule.stroke = hairline;
            rule.role = "rule";
            pages_.pages.back().items.emplace_back(std::move(rule));
        }
        new_page();
        last_table_.reset();
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
    std::set<std::size_t> begun_;  ///< tables
};

}  // namespace

Pages paginate(const Flow& flow, const PageGeometry& geometry)
{
    return Filler(flow, geometry).fill();
}

}  // namespace luxdossier::layout
