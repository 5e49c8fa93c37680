#pragma once

#include "model/figure.hpp"
#include "workbook/xlsx.hpp"

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::workbook {

/// A run of cells one below the other.
struct CellRange {
    std::string sheet;
    std::uint32_t first_row = 0, last_row = 0;
    std::uint16_t column = 0;
};

enum class Ink { data, whisker, limit, guard_band, reference, ring, spoke };

/// Words beside one point of a series, such as the id of a limit at the end of its line.
struct PointLabel {
    std::size_t point = 0;
    std::string text;
    enum class Side { above, below, left } side = Side::above;
};

struct ChartSeries {
    std::string name;
    CellRange x, y;
    Ink ink = Ink::data;
    model::Mark mark = model::Mark::none;
    bool line = true;
    int colour = 0;
    bool in_legend = true;
    std::vector<PointLabel> labels{};
};

struct Chart {
    std::string title;
    std::string alternative_text;
    model::Axis x, y;
    std::vector<ChartSeries> series;
    std::optional<double> half_span;  ///< both axes from -half_span to half_span and square: polar plots
    bool bars = false;                ///< horizontal bars: x are the names
    std::size_t rows = 0;             ///< y counts so many rows from the top, named by a series of labels
    [[nodiscard]] bool is_tall() const;
};

/// Charts stand on a grid of places, two beside each other and two below each other on a printed page; a tall
/// chart takes two places. Columns are of usual size; rows have a size of their own, which programs keep:
/// with the usual one they choose it by the face they have, and circles become ellipses.
inline constexpr std::uint16_t place_columns = 10;
inline constexpr std::uint32_t place_rows = 22;
inline constexpr double chart_row_points = 15.75;
/// Per cent, at which such a page fits on paper (A4, turned).
inline constexpr std::uint16_t chart_page_scale = 68;

/// Draws a native chart with its upper left corner in a cell.
void insert_chart(Xlsx& book, Sheet& sheet, Position position, const Chart& chart);

}  // namespace luxdossier::workbook
