#include "layout/plots/plot.hpp"
#include "layout/strip.hpp"
#include "report/words.hpp"

#include <algorithm>

namespace luxdossier::layout {

double draw_strips(Canvas& canvas, const model::Dossier& dossier, const model::Figure& figure,
                   double width_mm)
{
    constexpr double row = 5.2;
    double names = 0;
    for (const auto& strip : figure.strips)
        names = std::max(names, canvas.width(strip.name, plot_label));
    names = std::min(names, width_mm * 0.5);
    double y = 0;
    for (const auto& strip : figure.strips) {
        const auto& verdict = dossier.verdicts.verdicts.at(strip.verdict);
        const double middle = y + row / 2;
        canvas.text({0, middle + pt(plot_label.size_pt * 0.36)}, strip.name, plot_label);
        draw_strip(canvas, report::strip_of(verdict), {names + 4, middle}, width_mm - names - 4);
        y += row;
    }
    return y;
}

}  // namespace luxdossier::layout
