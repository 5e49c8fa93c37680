#pragma once

#include "workbook/chart.hpp"

#include <array>
#include <cstdint>
#include <vector>

namespace luxdossier::workbook {

/// Places of the charts from page to page.
class ChartPages {
public:
    explicit ChartPages(std::uint32_t top) : page_row_(top), breaks_{top} {}

    Position next(bool tall)
    {
        constexpr int places_below = 2;
        const int height = tall ? 2 : 1;
        auto column = used_[0] <= used_[1] ? 0U : 1U;
        if (used_.at(column) + height > places_below)
            column = 1 - column;
        if (used_.at(column) + height > places_below) {
            page_row_ += places_below * place_rows;
            breaks_.push_back(page_row_);
            used_ = {0, 0};
            column = 0;
        }
        const Position position{page_row_ + static_cast<std::uint32_t>(used_.at(column)) * place_rows,
                                static_cast<std::uint16_t>(column * place_columns)};
        used_.at(column) += height;
        return position;
    }

    [[nodiscard]] const std::vector<std::uint32_t>& breaks() const { return breaks_; }
    [[nodiscard]] Position end() const
    {
        return {page_row_ + 2 * place_rows - 1, static_cast<std::uint16_t>(2 * place_columns - 1)};
    }

private:
    std::uint32_t page_row_;
    std::array<int, 2> used_{0, 0};
    std::vector<std::uint32_t> breaks_;
};

}  // namespace luxdossier::workbook
