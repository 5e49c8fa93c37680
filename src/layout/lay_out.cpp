#include "layout/blocks.hpp"
#include "layout/plots/plot.hpp"
#include "layout/plots/rows.hpp"

#include <set>

namespace luxdossier::layout {
namespace {

class Composition {
public:
    Composition(const report::Document& document, const model::Dossier& dossier, Paper paper)
        : document_(document), dossier_(dossier), geometry_(geometry_of(paper)),
          width_(geometry_.text_width())
    {
    }

    Pages pages()
    {
        for (std::size_t i = 0; i < document_.blocks.size(); ++i)
            std::visit([&](const auto& block) { add(block, i); }, document_.blocks[i]);
        Pages pages = paginate(flow_, geometry_);
        finish_pages(pages, fonts_, document_, geometry_);
        pages.title = document_.title;
        pages.author = document_.author;
        pages.subject = document_.subject;
        return pages;
    }

private:
    void add(const report::Cover& cover, std::size_t) { add_cover(flow_, fonts_, cover, geometry_); }
    void add(const report::Contents&, std::size_t)
    {
        add_contents(flow_, fonts_, document_, width_, geometry_.bottom - geometry_.top);
    }
    void add(const report::Heading& heading, std::size_t)
    {
        mark([&] { add_heading(flow_, fonts_, heading, width_); });
    }
    void add(const report::Paragraph& paragraph, std::size_t index)
    {
        if (paragraph.note && (follows<report::Paragraph>(index) || follows<report::Bullets>(index)))
            keep_last();
        mark([&] { add_paragraph(flow_, fonts_, paragraph, width_); });
    }
    void add(const report::Formula& formula, std::size_t index)
    {
        if (follows<report::Paragraph>(index))
            keep_last();
        add_formula(flow_, fonts_, formula, width_);
    }
    void add(const report::Bullets& bullets, std::size_t) { add_bullets(flow_, fonts_, bullets, width_); }
    void add(const report::Facts& facts, std::size_t) { add_facts(flow_, fonts_, facts, width_); }
    void add(const report::Chain& chain, std::size_t) { add_chain(flow_, fonts_, chain, width_); }
    void add(const report::Caution& caution, std::size_t) { add_caution(flow_, fonts_, caution, width_); }
    void add(const report::Table& table, std::size_t)
    {
        mark([&] { add_table(flow_, fonts_, table, width_); });
    }
    void add(const report::SignOffBlock& block, std::size_t) { add_sign_off(flow_, fonts_, block, width_); }
    void add(const report::PageBreak&, std::size_t) { page_before_ = true; }
    void add(const report::EndMark& mark, std::size_t) { add_end_mark(flow_, fonts_, mark, width_); }

    template <class Before>
    [[nodiscard]] bool follows(std::size_t index) const
    {
        return index > 0 && std::holds_alternative<Before>(document_.blocks[index - 1]);
    }
    /// What was added last stands on one page with what comes next.
    void keep_last()
    {
        if (!flow_.fragments.empty())
            flow_.fragments.back().keep_with_next = true;
    }

    [[nodiscard]] const model::Figure* figure_at(std::size_t index) const
    {
        if (index >= document_.blocks.size())
            return nullptr;
        if (const auto* block = std::get_if<report::FigureBlock>(&document_.blocks[index]))
            return &dossier_.figures.at(block->figure);
        const auto* own = std::get_if<report::OwnFigure>(&document_.blocks[index]);
        return own != nullptr ? &own->figure : nullptr;
    }

    void add(const report::FigureBlock&, std::size_t index) { add_figure(index); }
    void add(const report::OwnFigure&, std::size_t index) { add_figure(index); }

    // Half-width figures that follow each other stand side by side.
    void add_figure(std::size_t index)
    {
        if (index == paired_)
            return;
        const auto& figure = *figure_at(index);
        const auto* next = figure_at(index + 1);
        const model::Figure* partner = nullptr;
        if (is_half_width(figure) && next != nullptr && is_half_width(*next)) {
            partner = next;
            paired_ = index + 1;
        }
        mark([&] {
            for (const auto& rows : split_rows(fonts_, figure, is_half_width(figure) ? pair_width : width_)) {
                for (const auto& part : split_panels(fonts_, rows, width_))
                    flow_.fragments.push_back(figure_fragment(fonts_, dossier_, part, partner, width_));
            }
        });
    }

    template <typename Adding>
    void mark(Adding adding)
    {
        const std::size_t first = flow_.fragments.size();
        adding();
        if (page_before_ && flow_.fragments.size() > first) {
            flow_.fragments[first].page_before = true;
            page_before_ = false;
        }
    }

    const report::Document& document_;
    const model::Dossier& dossier_;
    PageGeometry geometry_;
    double width_;
    Fonts fonts_;
    Flow flow_;
    bool page_before_ = false;
    std::size_t paired_ = static_cast<std::size_t>(-1);
};

// A template may leave out the table that a link points at: such links are dropped.
void drop_dangling_links(Pages& pages)
{
    std::set<std::string> anchors;
    for (const auto& page : pages.pages) {
        for (const auto& item : page.items) {
            if (const auto* anchor = std::get_if<AnchorItem>(&item))
                anchors.insert(anchor->anchor);
        }
    }
    for (auto& page : pages.pages) {
        for (auto& item : page.items) {
            auto* link = std::get_if<LinkItem>(&item);
            if (link != nullptr && !anchors.contains(link->anchor))
                item = PathItem{};
        }
    }
}

}  // namespace

Pages lay_out(const report::Document& document, const model::Dossier& dossier, Paper paper)
{
    Pages pages = Composition(document, dossier, paper).pages();
    drop_dangling_links(pages);
    return pages;
}

}  // namespace luxdossier::layout
