#include "statistics/minimax.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <utility>

#include <Eigen/Core>
#include <fmt/format.h>

namespace luxdossier::statistics {
namespace {

/// One side of the convex hull, from left to right; `side` is 1 for the upper, -1 for the lower one
/// (monotone chain, Andrew 1979). Points on an edge are left out.
void find_hull(std::span<const double> x, std::span<const double> y, std::span<const std::size_t> order,
               double side, std::vector<std::size_t>& chain)
{
    chain.clear();
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
}

Eigen::Map<const Eigen::ArrayXd> array_of(std::span<const double> values)
{
    return {values.data(), static_cast<Eigen::Index>(values.size())};
}
Eigen::Map<Eigen::ArrayXd> array_of(std::vector<double>& values)
{
    return {values.data(), static_cast<Eigen::Index>(values.size())};
}

/// Where a value stands first; the size where it does not.
std::size_t first_equal(const std::vector<double>& values, double value)
{
    return static_cast<std::size_t>(std::find(values.begin(), values.end(), value) - values.begin());
}

/// A strip: its edge through a point, and on the side that counts as below the height of its other edge.
struct Strip {
    double x0, y0, gain, side, farthest;
};
/// Heights over the first edge of the points that do not hold the strip, and which of them lies farther
/// outside; the number of points where a reading is no number.
struct Outermost {
    double highest, lowest;
    std::size_t point;
};
Outermost find_outermost(std::span<const double> x, std::span<const double> y, const Strip& strip,
                         const std::array<std::size_t, 3>& active, std::vector<double>& heights)
{
    const auto& [x0, y0, gain, side, farthest] = strip;
    constexpr std::size_t many = 24;  // fewer are looked at sooner one by one than by vectors
    if (x.size() > many) {
        auto all = array_of(heights);
        all = side * ((array_of(y) - y0) - gain * (array_of(x) - x0));
        for (const std::size_t point : active)
            heights[point] = farthest / 2.0;  // inside the strip
        const double highest = all.maxCoeff(), lowest = all.minCoeff();
        return {highest, lowest, first_equal(heights, highest > farthest - lowest ? highest : lowest)};
    }
    const auto [left, opposite, right] = active;
    double highest = -std::numeric_limits<double>::infinity(), lowest = -highest;
    std::size_t at_highest = left, at_lowest = left;
    for (std::size_t point = 0; point < x.size(); ++point) {
        if (point == left || point == right || point == opposite)
            continue;
        const double height = side * ((y[point] - y0) - gain * (x[point] - x0));
        at_highest = height > highest ? point : at_highest;
        highest = height > highest ? height : highest;
        at_lowest = height < lowest ? point : at_lowest;
        lowest = height < lowest ? height : lowest;
    }
    return {highest, lowest, highest > farthest - lowest ? at_highest : at_lowest};
}

}  // namespace

/// Indices of the points in order of x, then y. They begin in the order of the last fit: in trials the points
/// hardly ever change places, and an insertion leaves them at once.
void MinimaxSolver::sort(std::span<const double> x, std::span<const double> y)
{
    if (x.size() != y.size() || x.size() < 3)
        throw std::domain_error(
            fmt::format("found {} x and {} y, expected equal numbers of 3 or more", x.size(), y.size()));
    if (order_.size() != x.size()) {
        order_.resize(x.size());
        std::iota(order_.begin(), order_.end(), std::size_t{0});
    }
    const auto before = [&](std::size_t a, std::size_t b) {
        return x[a] < x[b] || (!(x[b] < x[a]) && (y[a] < y[b] || (!(y[b] < y[a]) && a < b)));
    };
    for (std::size_t next = 1; next < order_.size(); ++next) {
        const std::size_t point = order_[next];
        std::size_t place = next;
        for (; place > 0 && before(point, order_[place - 1]); --place)
            order_[place] = order_[place - 1];
        order_[place] = point;
    }
    if (!(x[order_.back()] > x[order_.front()]))
        throw std::domain_error(fmt::format("found {} points that all have x = {}, expected two that differ",
                                            x.size(), x.front()));
}

/// From the points that held the last strip to those that hold this one, by single exchange (Stiefel
/// 1959): a point that lies outside the strip of three takes the place of the one whose deviation has
/// its sign. An edge with all others on one side of it, the farthest of them between its ends, leaves no
/// narrower strip. The strip is then in best_, by the same arithmetic as if it had been searched for. False:
/// not known, as where two points hold it alike.
bool MinimaxSolver::exchange(std::span<const double> x, std::span<const double> y)
{
    if (best_.active.size() != 3 || x.size() != order_.size() || y.size() != x.size())
        return false;
    heights_.resize(x.size());
    std::size_t left = best_.active[0], opposite = best_.active[1], right = best_.active[2];
    for (std::size_t attempt = 0; attempt <= x.size(); ++attempt) {
        if (!(x[left] < x[opposite] && x[opposite] < x[right]))
            return false;
        const double x0 = x[left], y0 = y[left], gain = (y[right] - y0) / (x[right] - x0);
        const double bend = (y[opposite] - y0) - gain * (x[opposite] - x0);
        const double side = bend < 0.0 ? 1.0 : -1.0, farthest = side * bend;
        if (!(farthest < 0.0))
            return false;
        const auto [highest, lowest, point] =
            find_outermost(x, y, {x0, y0, gain, side, farthest}, {left, opposite, right}, heights_);
        if (highest < 0.0 && lowest > farthest) {
            best_.active[0] = left;
            best_.active[1] = opposite;
            best_.active[2] = right;
            best_.deviation = -farthest / 2.0;
            best_.line = {y0 - gain * x0 - side * best_.deviation, gain};
            return true;
        }
        const bool is_above = highest > farthest - lowest;
        if (point == x.size())
            return false;  // a reading that is no number
        const double at = x[point];
        if (at < x[left]) {
            if (!is_above) {
                right = opposite;
                opposite = left;
            }
            left = point;
        } else if (at > x[right]) {
            if (!is_above) {
                left = opposite;
                opposite = right;
            }
            right = point;
        } else if (!is_above) {
            opposite = point;
        } else if (at < x[opposite]) {
            left = point;
        } else {
            right = point;
        }
    }
    return false;
}

/// The same for a line through the first point: two points that deviate most, to opposite sides.
bool MinimaxSolver::exchange_through_first(std::span<const double> x, std::span<const double> y)
{
    if (best_.active.size() != 2 || x.size() != order_.size() || y.size() != x.size())
        return false;
    heights_.resize(x.size());
    const std::size_t first = order_.front();
    std::size_t p = best_.active[0], q = best_.active[1];
    const double x0 = x[first], y0 = y[first];
    if ((array_of(x) > x0).count() + 1 != array_of(x).size())
        return false;
    for (std::size_t attempt = 0; attempt <= x.size(); ++attempt) {
        const double run = (x[p] - x0) + (x[q] - x0);
        if (p == first || q == first || !(run > 0.0))
            return false;
        const double gain = ((y[p] - y0) + (y[q] - y0)) / run;
        const auto height = [&](std::size_t point) { return (y[point] - y0) - gain * (x[point] - x0); };
        const double of_p = height(p), of_q = height(q);
        if (!(of_p * of_q < 0.0))
            return false;
        auto heights = array_of(heights_);
        heights = ((array_of(y) - y0) - gain * (array_of(x) - x0)).abs();
        heights_[p] = heights_[q] = 0.0;
        const double greatest = heights.maxCoeff();
        if (greatest < std::min(std::abs(of_p), std::abs(of_q))) {
            best_.active[0] = p;
            best_.active[1] = q;
            best_.deviation = std::max(std::abs(of_p), std::abs(of_q));
            best_.line = {y0 - gain * x0, gain};
            return true;
        }
        const auto at_greatest = first_equal(heights_, greatest);
        if (at_greatest == x.size())
            return false;  // a reading that is no number
        (height(at_greatest) * of_p > 0.0 ? p : q) = at_greatest;
        if (x[q] < x[p])
            std::swap(p, q);
    }
    return false;
}

// The narrowest strip of constant slope that holds all points lies along an edge of their convex hull, and a
// point between the ends of that edge holds its far side.
const MinimaxFit& MinimaxSolver::fit(std::span<const double> x, std::span<const double> y)
{
    if (exchange(x, y))
        return best_;
    sort(x, y);
    const auto& order = order_;
    auto& best = best_;
    best.active.clear();
    best.deviation = std::numeric_limits<double>::infinity();
    for (const double side : {1.0, -1.0}) {
        auto& chain = chain_;
        find_hull(x, y, order, side, chain);
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
const MinimaxFit& MinimaxSolver::fit_through_first(std::span<const double> x, std::span<const double> y)
{
    if (exchange_through_first(x, y))
        return best_;
    sort(x, y);
    const auto& order = order_;
    const double x0 = x[order.front()], y0 = y[order.front()];
    is_corner_.assign(x.size(), false);
    for (const double side : {1.0, -1.0}) {
        find_hull(x, y, order, side, chain_);
        for (const std::size_t point : chain_)
            is_corner_[point] = true;
    }
    auto& corners = chain_;
    corners.clear();
    for (const std::size_t point : order)
        if (is_corner_[point])
            corners.push_back(point);
    const auto height = [&](std::size_t point, double gain) {
        return (y[point] - y0) - gain * (x[point] - x0);
    };

    auto& best = best_;
    best.active.clear();
    best.deviation = std::numeric_limits<double>::infinity();
    const auto consider = [&](std::size_t p, std::size_t q) {
        const double run = (x[p] - x0) + (x[q] - x0);
        if (!(run > 0.0))
            return;
        const double gain = ((y[p] - y0) + (y[q] - y0)) / run;
        double greatest = 0.0;
        for (const std::size_t point : order) {
            greatest = std::max(greatest, std::abs(height(point, gain)));
            if (!(greatest < best.deviation))
                return;
        }
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

MinimaxFit fit_minimax(std::span<const double> x, std::span<const double> y)
{
    return MinimaxSolver().fit(x, y);
}

MinimaxFit fit_minimax_through_first(std::span<const double> x, std::span<const double> y)
{
    return MinimaxSolver().fit_through_first(x, y);
}

}  // namespace luxdossier::statistics
