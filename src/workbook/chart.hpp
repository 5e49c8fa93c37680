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

enum class Ink { data, whisker, limit, guard_band, reference };

struct ChartSeries {
    std::string name;
    CellRange x, y;
    Ink ink = Ink::data;
    model::Mark mark = model::Mark::none;
    bool line = true;
    int colour = 0;
};

struct Chart {
    std::string title;
    model::Axis x, y;
    std::vector<ChartSeries> series;
    std::optional<double> half_span;  ///< both axes from -half_span to half_span and square: polar plots
    bool bars = false;                ///< horizontal bars: x are the names
};

/// Draws a native chart with its upper left corner in a cell.
void insert_chart(Xlsx& book, Sheet& sheet, Position position, const Chart& chart);

/// Rows of usual height that a chart covers.
[[nodiscard]] std::uint32_t chart_rows(const Chart& chart);

}  // namespace luxdossier::workbook
