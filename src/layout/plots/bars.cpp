#include "layout/plots/plot.hpp"
#include "layout/plots/rows.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::layout {
namespace {

constexpr double bar_height = 2.6, gap = 2, value_gap = 1.5;

}  // namespace

double draw_bars(Canvas& canvas, const model::Figure& figure, double width_mm)
{
    std::vector<std::string> names;
    double values = 0, greatest = 0;
    for (const auto& bar : figure.bars) {
        names.push_back(bar.name);
        values = std::max(values, canvas.width(bar.text, plot_label));
        if (std::isfinite(bar.value))
            greatest = std::max(greatest, std::abs(bar.value));
    }
    const auto rows = place_rows(canvas.fonts(), names, width_mm);
    const double left = rows.name_width + gap;
    const double room = std::max(5.0, width_mm - left - values - value_gap);
    for (std::size_t i = 0; i < figure.bars.size(); ++i) {
        const auto& bar = figure.bars[i];
        const double middle = rows.middle(i);
        draw_name(canvas, rows, i, left - gap, middle);
        const double length =
            greatest > 0 && std::isfinite(bar.value) ? room * std::abs(bar.value) / greatest : 0;
        const double top = middle - bar_height / 2, bottom = middle + bar_height / 2;
        const std::string role = "bar:" + bar.name;
        if (bar.filled && length > 0)
            canvas.polygon({{left, top}, {left + length, top}, {left + length, bottom}, {left, bottom}},
                           data_colour(0), role);
        else if (length > 0)
            canvas.rectangle({left, top, length, bar_height}, {pt(0.8), data_colour(0), {}}, role);
        canvas.text({left + length + value_gap, middle + pt(plot_label.size_pt * 0.36)}, bar.text,
                    plot_label);
    }
    canvas.line({left, 0}, {left, rows.height()}, {pt(0.5), ink, {}}, "axis:y");
    return rows.height();
}

}  // namespace luxdossier::layout
