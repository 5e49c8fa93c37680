#pragma once

#include "layout/canvas.hpp"
#include "layout/plots/scale.hpp"
#include "model/figure.hpp"

namespace luxdossier::layout {

/// What a panel writes itself; the rest its neighbours write for it.
struct PanelLabels {
    bool series = false, x = true, y_title = true, y_ticks = true;
};

inline constexpr double panel_label_gap = 1.6, panel_tick_length = pt(3);

/// Room above the plot for the names of verticals.
[[nodiscard]] double lift_of(const model::Panel& panel);

/// Draws one coordinate system in the place that its scales say, its names at the right within `label_width`.
void draw_panel(Canvas& canvas, const model::Panel& panel, const Scale& x, const Scale& y, double label_width,
                PanelLabels written);

}  // namespace luxdossier::layout
