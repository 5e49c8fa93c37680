#include "layout/plots/plot.hpp"

#include "layout/blocks.hpp"
#include "layout/marks.hpp"
#include "layout/plots/direct_labels.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::layout {
namespace {

double draw_plot(Canvas& canvas, const model::Dossier& dossier, const model::Figure& figure, double width_mm)
{
    switch (figure.kind) {
    case model::FigureKind::polar:
        return draw_polar(canvas, figure, width_mm);
    case model::FigureKind::bars:
        return draw_bars(canvas, figure, width_mm);
    case model::FigureKind::strips:
        return draw_strips(canvas, dossier, figure, width_mm);
    case model::FigureKind::dots:
        return draw_dots(canvas, figure, width_mm);
    case model::FigureKind::cartesian:
    case model::FigureKind::small_multiples:
    case model::FigureKind::stacked:
        break;
    }
    return draw_cartesian(canvas, figure, width_mm);
}

void append(std::vector<Item>& items, std::vector<Fragment> fragments, double x, double& y)
{
    for (auto& fragment : fragments) {
        translate(fragment.items, x, y);
        items.insert(items.end(), std::make_move_iterator(fragment.items.begin()),
                     std::make_move_iterator(fragment.items.end()));
        y += fragment.height;
    }
}

std::vector<Fragment> title_of(const Fonts& fonts, const model::Figure& figure, double width_mm)
{
    if (figure.title.empty())
        return {};
    return text_fragments(fonts, {{figure.title, report::Style::semibold}}, table_style, width_mm);
}

double height_of(const std::vector<Fragment>& fragments)
{
    double height = 0;
    for (const auto& fragment : fragments)
        height += fragment.height;
    return height;
}

// Title, plot and caption from the top; returns the height. Plots beside each other begin below the longer
// title.
double add_figure(Fragment& fragment, const Fonts& fonts, const model::Dossier& dossier,
                  const model::Figure& figure, double x, double width_mm, double title_height)
{
    const std::size_t first = fragment.items.size();
    double y = 0;
    append(fragment.items, title_of(fonts, figure, width_mm), x, y);
    y = title_height + pt(2.25);
    Canvas canvas(fonts);
    const double height = draw_plot(canvas, dossier, figure, width_mm);
    translate(canvas.items(), x, y);
    for (auto& item : canvas.items())
        fragment.items.push_back(std::move(item));
    y += height + pt(4.5);
    fragment.figures.push_back({first, fragment.items.size(), figure.alternative_text});
    if (!figure.caption.empty())
        append(fragment.items,
               text_fragments(fonts, {{figure.caption, report::Style::plain}}, caption_style, width_mm), x,
               y);
    return y;
}

}  // namespace

bool is_half_width(const model::Figure& figure)
{
    return figure.kind == model::FigureKind::polar || figure.half_width;
}

Fragment figure_fragment(const Fonts& fonts, const model::Dossier& dossier, const model::Figure& figure,
                         const model::Figure* partner, double width_mm)
{
    Fragment fragment;
    fragment.movable = true;
    fragment.space_before = pt(11.25);
    const double width = is_half_width(figure) ? std::min(pair_width, width_mm) : width_mm;
    double title = height_of(title_of(fonts, figure, width));
    if (partner != nullptr)
        title = std::max(title, height_of(title_of(fonts, *partner, pair_width)));
    fragment.height = add_figure(fragment, fonts, dossier, figure, 0, width, title);
    if (partner != nullptr)
        fragment.height = std::max(fragment.height, add_figure(fragment, fonts, dossier, *partner,
                                                               width_mm - pair_width, pair_width, title));
    fragment.height += pt(6.75);
    return fragment;
}

std::vector<double> dashes_of(model::Stroke stroke)
{
    switch (stroke) {
    case model::Stroke::dashed:
        return {2.2, 1.1};
    case model::Stroke::dotted:
        return {0.4, 0.9};
    case model::Stroke::dash_dot:
        return {2.2, 0.9, 0.4, 0.9};
    case model::Stroke::none:
    case model::Stroke::solid:
        break;
    }
    return {};
}

std::vector<LegendKey> keys_of(const std::vector<model::Series>& series)
{
    std::vector<LegendKey> keys;
    for (const auto& one : series)
        keys.push_back({one.name, one.mark, data_colour(one.colour), one.stroke != model::Stroke::none,
                        pt(1.1), dashes_of(one.stroke)});
    return keys;
}

double draw_legend(Canvas& canvas, const std::vector<LegendKey>& keys, Position top_left, double width_mm)
{
    constexpr double key = 7, gap = 5, line = 4, narrowest_column = 40;
    constexpr std::size_t most_in_lines = 12;
    const auto draw_key = [&](const LegendKey& one, const std::string& name, double x, double y) {
        const double middle = y + line / 2;
        if (one.line)
            canvas.line({x, middle}, {x + key - 2, middle}, {one.line_mm, one.colour, one.dashes_mm},
                        "legend");
        draw_mark(canvas, one.mark, {x + (key - 2) / 2, middle}, one.colour, false, "legend");
        canvas.text({x + key - 0.8, middle + pt(plot_label.size_pt * 0.36)}, name, plot_label);
    };
    if (keys.size() > most_in_lines) {
        // Columns, read downwards; a long name has its middle left out.
        double widest = narrowest_column;
        for (const auto& one : keys)
            widest = std::max(widest, key + canvas.width(one.name, plot_label) + gap);
        const double most = width_mm > 1.5 * pair_width ? 57 : 43;
        const double count = std::max(std::floor((width_mm + gap) / std::min(widest, most)), 1.0);
        const double column = (width_mm + gap) / count;
        const auto rows = static_cast<std::size_t>(std::ceil(static_cast<double>(keys.size()) / count));
        for (std::size_t i = 0; i < keys.size(); ++i) {
            const DirectLabel label{keys[i].name};
            draw_key(keys[i], label_words(canvas, label, plot_label, column - gap - key),
                     top_left.x + column * static_cast<double>(i / rows),
                     top_left.y + line * static_cast<double>(i % rows));
        }
        return line * static_cast<double>(rows);
    }
    double x = top_left.x, y = top_left.y;
    for (const auto& one : keys) {
        const DirectLabel label{one.name};
        const auto name = label_words(canvas, label, plot_label, width_mm - key);
        const double width = key + canvas.width(name, plot_label) + gap;
        if (x > top_left.x && x + width - gap > top_left.x + width_mm) {
            x = top_left.x;
            y += line;
        }
        draw_key(one, name, x, y);
        x += width;
    }
    return y + line - top_left.y;
}

}  // namespace luxdossier::layout
