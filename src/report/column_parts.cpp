#include "report/column_parts.hpp"

#include <algorithm>

namespace luxdossier::report {
namespace {

std::vector<std::size_t> as_full_as_fits(const std::vector<double>& widths_mm, double room_mm,
                                         std::size_t most)
{
    std::vector<std::size_t> starts;
    double used = 0;
    for (std::size_t column = 0; column < widths_mm.size(); ++column) {
        used += widths_mm[column];
        if (starts.empty() || used > room_mm || column - starts.back() == most) {
            starts.push_back(column);
            used = widths_mm[column];
        }
    }
    return starts;
}

}  // namespace

double column_width_mm(const DecimalWidth& figures, const std::string& heading, double widest_heading_mm)
{
    constexpr double room_mm = 0.6;
    return std::max(figures.total_mm(), std::min(table_width_mm(heading), widest_heading_mm)) +
           column_gap_mm + room_mm;
}

std::vector<std::size_t> column_parts(const std::vector<double>& widths_mm, double room_mm, std::size_t most)
{
    auto starts = as_full_as_fits(widths_mm, room_mm, most);
    if (starts.size() < 2)
        return starts;
    const auto even = (widths_mm.size() + starts.size() - 1) / starts.size();
    const auto evener = as_full_as_fits(widths_mm, room_mm, even);
    return evener.size() == starts.size() ? evener : starts;
}

}  // namespace luxdossier::report
