#pragma once

#include "layout/canvas.hpp"
#include "report/document.hpp"

#include <vector>

namespace luxdossier::layout {

/// Part of a line in one style, x from the start of the line.
struct Run {
    std::string text;
    report::Style style = report::Style::plain;
    double x = 0, width = 0;
    std::string link = {};
};
struct Line {
    std::vector<Run> runs;
    double width = 0;
};

/// Breaks text at its spaces into lines no wider than `width_mm`; a word that is wider is broken behind one
/// of - / _ = . , : where that helps, else anywhere. Thin and no-break spaces hold together.
[[nodiscard]] std::vector<Line> break_lines(const Fonts& fonts, const report::Text& text,
                                            const TypeStyle& style, double width_mm);
/// The text on one line, whatever its width.
[[nodiscard]] Line single_line(const Fonts& fonts, const report::Text& text, const TypeStyle& style);
/// Width of the widest word; of paths and long ids that of their widest part.
[[nodiscard]] double widest_word(const Fonts& fonts, const report::Text& text, const TypeStyle& style);

/// Draws a line with its start at `baseline`.
void draw_line(Canvas& canvas, const Line& line, Position baseline, const TypeStyle& style);

/// Type of a span within text of the given style.
struct RunType {
    TypeStyle type;
    double raise_mm = 0;
};
[[nodiscard]] RunType run_type(report::Style style, const TypeStyle& base);

}  // namespace luxdossier::layout
