#pragma once

#include <vector>

namespace luxdossier::layout {

struct Ticks {
    std::vector<double> values;
    int decimals = 0;  ///< that all labels need
};

/// About `count` nicely spaced ticks for data between `from` and `to`.
/// Domain: finite, from < to; count >= 2.
/// Source: Talbot, Lin and Hanrahan, "An Extension of Wilkinson's Algorithm for Positioning Tick Labels on
/// Axes", IEEE Trans. Vis. Comput. Graph. 16 (2010) 1036-1043, with legibility 1; ticks(8.1, 14.1, 4) is 8 10
/// 12 14.
[[nodiscard]] Ticks ticks(double from, double to, int count);

/// Powers of ten in [from, to]; `minor` are their multiples 2 to 9. Domain: 0 < from < to.
struct LogTicks {
    std::vector<double> major, minor;
};
[[nodiscard]] LogTicks log_ticks(double from, double to);

}  // namespace luxdossier::layout
