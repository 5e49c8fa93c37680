#include "statistics/line.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::statistics {
namespace {

/// Indices of the points in order of x, then y.
std::vector<std::size_t> in_order(std::span<const double> x, std::span<const double> y)
{
    if (x.size() != y.size() || x.size() < 3)
        throw std::domain_error(
            fmt::format("found {} x and {} y, expected equal numbers of 3 or more", x.size(), y.size()));
    std::vector<std::size_t> order(x.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::sort(order, [&](std::size_t a, std::size_t b) {
        return std::pair{x[a], y[a]} < std::pair{x[b], y[b]};
    });
    if (!(x[order.back()] > x[order.front()]))
        throw std::domain_error(fmt::format("found {} points that all have x = {}, expected two that differ",
                                            x.size(), x.front()));
    return order;
}

/// One side of the convex hull, from left to right; `side` is 1 for the upper, -1 for the lower one
/// (monotone chain, Andrew 1979). Points on an edge are left out.
std::vector<std::size_t> hull(std::span<const double> x, std::span<const double> y,
                              std::span<const std::size_t> order, double side)
{
    std::vector<std::size_t> chain;
    for (const std::size_t point : order) {
        while (chain.size() > 1) {
            const std::size_t a = chain[chain.size() - 2], b = chain.back();
            const double turn = (x[b] - x[a]) * (y[point] - y[a]) - (y[b] - y[a]) * (x[point] - x[a]);
            if (side * turn < 0.0)
                break;
            chain.pop_back();
        }
        chain.push_back(point);
    }
    return chain;
}

}  // namespace

// The narrowest strip of constant slope that holds all points lies along an edge of their convex hull, and a
// point between the ends of that edge holds its far side.
MinimaxFit fit_minimax(std::span<const double> x, std::span<const double> y)
{
    const auto order = in_order(x, y);
    MinimaxFit best;
    best.deviation = std::numeric_limits<double>::infinity();
    for (const double side : {1.0, -1.0}) {
        const auto chain = hull(x, y, order, side);
        for (std::size_t edge = 0; edge + 1 < chain.size(); ++edge) {
            const std::size_t left = chain[edge], right = chain[edge + 1];
            if (!(x[right] > x[left]))
                continue;
            const double gain = (y[right] - y[left]) / (x[right] - x[left]);
            double farthest = 0.0;
            std::size_t opposite = order[1] != left && order[1] != right ? order[1] : order.front();
            for (const std::size_t point : order) {
                if (point == left || point == right)
                    continue;
                const double height = (y[point] - y[left]) - gain * (x[point] - x[left]);
                if (side * height <= farthest) {
                    farthest = side * height;
                    opposite = point;
                }
            }
            const double deviation = -farthest / 2.0;
            if (!(deviation < best.deviation))
                continue;
            best.deviation = deviation;
            best.line = {y[left] - gain * x[left] - side * deviation, gain};
            best.active = {left, opposite, right};
        }
    }
    return best;
}

// The greatest deviation from a line through the first point is a convex function of the gain, least where
// two points on opposite sides deviate alike; only points of the hull can be greatest.
MinimaxFit fit_minimax_through_first(std::span<const double> x, std::span<const double> y)
{
    const auto order = in_order(x, y);
    const double x0 = x[order.front()], y0 = y[order.front()];
    auto corners = hull(x, y, order, 1.0);
    for (const std::size_t point : hull(x, y, order, -1.0))
        if (std::ranges::find(corners, point) == corners.end())
            corners.push_back(point);
    std::ranges::sort(corners, {}, [&](std::size_t point) { return std::ranges::find(order, point); });
    const auto height = [&](std::size_t point, double gain) {
        return (y[point] - y0) - gain * (x[point] - x0);
    };

    MinimaxFit best;
    best.deviation = std::numeric_limits<double>::infinity();
    const auto consider = [&](std::size_t p, std::size_t q) {
        const double run = (x[p] - x0) + (x[q] - x0);
        if (!(run > 0.0))
            return;
        const double gain = ((y[p] - y0) + (y[q] - y0)) / run;
        double greatest = 0.0;
        for (const std::size_t point : order)
            greatest = std::max(greatest, std::abs(height(point, gain)));
        if (!(greatest < best.deviation))
            return;
        best.deviation = greatest;
        best.line = {y0 - gain * x0, gain};
        best.active = {p, q};
    };
    for (std::size_t i = 1; i < corners.size(); ++i)
        for (std::size_t k = i + 1; k < corners.size(); ++k)
            consider(corners[i], corners[k]);
    if (best.active.empty())  // all on one line: any two of the others hold it
        consider(order[1], order[2]);
    return best;
}

}  // namespace luxdossier::statistics
