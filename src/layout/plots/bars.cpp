#include "layout/plots/plot.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::layout {

double draw_bars(Canvas& canvas, const model::Figure& figure, double width_mm)
{
    constexpr double row = 4.8, bar_height = 2.6;
    double names = 0, values = 0, greatest = 0;
    for (const auto& bar : figure.bars) {
        names = std::max(names, canvas.width(bar.name, plot_label));
        values = std::max(values, canvas.width(bar.text, plot_label));
        greatest = std::max(greatest, std::abs(bar.value));
    }
    names = std::min(names, width_mm * 0.5);
    const double left = names + 2, room = std::max(10.0, width_mm - left - values - 3);
    double y = 0;
    for (const auto& bar : figure.bars) {
        const double middle = y + row / 2;
        const double baseline = middle + pt(plot_label.size_pt * 0.36);
        canvas.text({left - 2, baseline}, bar.name, plot_label, Canvas::Anchor::right);
        const double length = greatest > 0 ? room * std::abs(bar.value) / greatest : 0;
        const Rect box{left, middle - bar_height / 2, std::max(length, 0.1), bar_height};
        if (bar.filled)
            canvas.polygon({{box.x, box.y},
                            {box.x + box.width, box.y},
                            {box.x + box.width, box.y + box.height},
                            {box.x, box.y + box.height}},
                           data_colour(0), "bar:" + bar.name);
        else
            canvas.rectangle(box, {pt(0.8), data_colour(0), {}}, "bar:" + bar.name);
        canvas.text({left + length + 1.5, baseline}, bar.text, plot_label);
        y += row;
    }
    canvas.line({left, 0}, {left, y}, {pt(0.5), ink, {}}, "axis:y");
    return y;
}

}  // namespace luxdossier::layout
