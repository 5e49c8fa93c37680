#include "workbook/plot_cells.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {

Cells as_cells(const std::vector<model::Point>& points)
{
    Cells cells;
    for (const auto& point : points)
        cells.emplace_back(plain(point.x), plain(point.y));
    return cells;
}

Cells vertical_line(const model::Panel& panel, double x)
{
    double least = 1e300, greatest = -1e300;
    for (const auto& series : panel.series)
        for (const auto& point : series.points) {
            least = std::min(least, point.y);
            greatest = std::max(greatest, point.y);
        }
    if (least > greatest)
        return {};
    return {{plain(x), plain(least)}, {plain(x), plain(greatest)}};
}

void add_whisker(Cells& whiskers, const Term& x, const Term& y, const Term& u, double u_lower)
{
    const bool live = !y.text.empty() && !u.text.empty() && u_lower == u.value;
    whiskers.emplace_back(x,
                          live ? Term{y.text + "-" + u.text, y.value - u.value} : plain(y.value - u_lower));
    whiskers.emplace_back(x,
                          live ? Term{y.text + "+" + u.text, y.value + u.value} : plain(y.value + u.value));
    whiskers.emplace_back(plain(NAN), plain(NAN));
}

Cells ring(double radius)
{
    Cells cells;
    for (int angle = -180; angle <= 180; angle += 5)
        cells.emplace_back(plain(angle), plain(radius));
    return cells;
}

Cells spokes(double radius, std::vector<PointLabel>& labels)
{
    Cells cells;
    for (int angle = -150; angle <= 180; angle += 30) {
        cells.emplace_back(plain(angle), plain(0));
        labels.push_back({cells.size(), fmt::format("{}°", angle)});
        cells.emplace_back(plain(angle), plain(radius));
        cells.emplace_back(plain(NAN), plain(NAN));
    }
    return cells;
}

Cells half_angle(const model::MarkedAngle& angle)
{
    constexpr double half = 0.5, reach = 0.06;
    const double from = angle.angle_degree - angle.u_degree, to = angle.angle_degree + angle.u_degree;
    return {{plain(from), plain(half)},
            {plain(angle.angle_degree), plain(half)},
            {plain(to), plain(half)},
            {plain(NAN), plain(NAN)},
            {plain(angle.angle_degree), plain(half - reach)},
            {plain(angle.angle_degree), plain(half + reach)}};
}

}  // namespace luxdossier::workbook
