#pragma once

#include "layout/canvas.hpp"

#include <cstddef>
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
    bool limit = false;                     ///< names of limits may share one label
    std::vector<std::string> further = {};  ///< names that share it
};

/// Moves labels apart to at least `spacing`, in the order of their wishes, within [top, bottom], as little as
/// possible in sum of squares (pool adjacent violators). Where they cannot all fit, the spacing gives way
/// evenly.
void move_apart(std::vector<DirectLabel>& labels, double spacing, double top, double bottom);

/// Joins names of limits that stand at one place, then those nearest to each other until at most `most`
/// labels are left (names of series are never joined).
void join_limits(std::vector<DirectLabel>& labels, std::size_t most);

/// The words of a label within a width: joined names as far as they fit and how many more there are, a long
/// name with its middle left out.
[[nodiscard]] std::string label_words(const Canvas& canvas, const DirectLabel& label, const TypeStyle& style,
                                      double width_mm);

}  // namespace luxdossier::layout
