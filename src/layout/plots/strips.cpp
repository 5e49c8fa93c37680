#include "layout/marks.hpp"
#include "layout/plots/plot.hpp"
#include "layout/plots/rows.hpp"
#include "layout/strip.hpp"
#include "report/words.hpp"

#include <algorithm>

namespace luxdossier::layout {
namespace {

constexpr double gap = 4, mark_width = 4.2, outcome_width = 28;

}  // namespace

// Name, strip, text and outcome of each row: columns whose strips share one scale.
double draw_strips(Canvas& canvas, const model::Dossier& dossier, const model::Figure& figure,
                   double width_mm)
{
    std::vector<std::string> names;
    double texts = 0;
    for (const auto& strip : figure.strips) {
        names.push_back(strip.name);
        texts = std::max(texts, canvas.width(strip.text, plot_label));
    }
    const auto rows = place_rows(canvas.fonts(), names, width_mm);
    const double from = rows.name_width + gap, outcomes = width_mm - outcome_width;
    const double to = outcomes - gap - (texts > 0 ? texts + gap : 0);
    for (std::size_t i = 0; i < figure.strips.size(); ++i) {
        const auto& strip = figure.strips[i];
        const auto& verdict = dossier.verdicts.verdicts.at(strip.verdict);
        const double middle = rows.middle(i), baseline = middle + pt(plot_label.size_pt * 0.36);
        draw_name(canvas, rows, i, 0, middle, true);
        if (verdict.tolerance_lower || verdict.tolerance_upper)
            draw_strip(canvas, report::strip_of(verdict), {from, middle}, to - from);
        canvas.text({outcomes - gap, baseline}, strip.text, plot_label, Canvas::Anchor::right);
        draw_outcome(canvas, verdict.outcome, {outcomes + mark_width / 2 - 0.6, middle}, 2.2);
        canvas.text({outcomes + mark_width, baseline}, model::outcome_text(verdict.outcome), plot_label);
    }
    return rows.height();
}

}  // namespace luxdossier::layout
