#pragma once

#include "layout/canvas.hpp"

#include <string>
#include <vector>

namespace luxdossier::layout {

/// A name that wants to stand at `wanted_y`; `y` is where it came to stand.
struct DirectLabel {
    std::string text;
    double wanted_y = 0;
    Rgb colour = ink;
    double x = 0;  ///< end of the line that it names
    double y = 0;
};

/// Moves labels apart to at least `spacing`, in the order of their wishes, within [top, bottom], as little as
/// possible in sum of squares (pool adjacent violators). Where they cannot all fit, the spacing gives way
/// evenly.
void move_apart(std::vector<DirectLabel>& labels, double spacing, double top, double bottom);

}  // namespace luxdossier::layout
