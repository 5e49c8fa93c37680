#pragma once

#include "layout/fragment.hpp"
#include "model/dossier.hpp"

namespace luxdossier::layout {

/// Width of a figure that shares its line with another.
inline constexpr double pair_width = 82;

/// Figures that stand two side by side: polar ones and those that say so.
[[nodiscard]] bool is_half_width(const model::Figure& figure);

/// A figure with its title and caption as one fragment; with a partner, two side by side.
[[nodiscard]] Fragment figure_fragment(const Fonts& fonts, const model::Dossier& dossier,
                                       const model::Figure& figure, const model::Figure* partner,
                                       double width_mm);

// Each draws into [0, width] x [0, returned height].
[[nodiscard]] double draw_cartesian(Canvas& canvas, const model::Figure& figure, double width_mm);
[[nodiscard]] double draw_polar(Canvas& canvas, const model::Figure& figure, double width_mm);
[[nodiscard]] double draw_bars(Canvas& canvas, const model::Figure& figure, double width_mm);
[[nodiscard]] double draw_dots(Canvas& canvas, const model::Figure& figure, double width_mm);
[[nodiscard]] double draw_strips(Canvas& canvas, const model::Dossier& dossier, const model::Figure& figure,
                                 double width_mm);

/// Small multiples that are higher than a page as several figures that are not, "1 of 3" in their titles;
/// other figures come back as they are.
[[nodiscard]] std::vector<model::Figure> split_panels(const Fonts& fonts, const model::Figure& figure,
                                                      double width_mm);

/// What a legend shows before a name.
struct LegendKey {
    std::string name;
    model::Mark mark = model::Mark::none;
    Rgb colour = ink;
    bool line = false;
    double line_mm = 0;
    std::vector<double> dashes_mm = {};
};
[[nodiscard]] std::vector<LegendKey> keys_of(const std::vector<model::Series>& series);

/// Keys side by side, wrapped, many of them in columns; returns the height.
[[nodiscard]] double draw_legend(Canvas& canvas, const std::vector<LegendKey>& keys, Position top_left,
                                 double width_mm);

/// Dashes of a stroke in millimetres; empty: solid.
[[nodiscard]] std::vector<double> dashes_of(model::Stroke stroke);

}  // namespace luxdossier::layout
