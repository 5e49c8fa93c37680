#include "photometry/hermite.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

namespace luxdossier::photometry {
namespace {

/// value = y0 + t (d0 + t (c2 + t c3)), t = at - x0.
struct PowerForm {
    double c2 = 0, c3 = 0;
    explicit PowerForm(const HermitePiece& piece)
    {
        const double per_width = 1 / (piece.x1 - piece.x0);
        const double secant = (piece.y1 - piece.y0) * per_width;
        c2 = (3 * secant - 2 * piece.d0 - piece.d1) * per_width;
        c3 = (piece.d0 + piece.d1 - 2 * secant) * per_width * per_width;
    }
};

}  // namespace

double HermitePiece::value(double at) const
{
    // From the nearer end, so that both ends are met exactly.
    if (at - x0 > x1 - at) {
        const HermitePiece mirrored{-x1, -x0, y1, y0, -d1, -d0};
        const PowerForm power(mirrored);
        const double t = x1 - at;
        return y1 + t * (-d1 + t * (power.c2 + t * power.c3));
    }
    const PowerForm power(*this);
    const double t = at - x0;
    return y0 + t * (d0 + t * (power.c2 + t * power.c3));
}

double HermitePiece::first_derivative(double at) const
{
    const PowerForm power(*this);
    const double t = at - x0;
    return d0 + t * (2 * power.c2 + 3 * t * power.c3);
}

double HermitePiece::second_derivative(double at) const
{
    const PowerForm power(*this);
    return 2 * power.c2 + 6 * (at - x0) * power.c3;
}

double HermitePiece::third_derivative() const
{
    return 6 * PowerForm(*this).c3;
}

std::array<double, 4> HermitePiece::about(double at) const
{
    const PowerForm power(*this);
    const double t = at - x0;
    return {y0 + t * (d0 + t * (power.c2 + t * power.c3)), d0 + t * (2 * power.c2 + 3 * t * power.c3),
            power.c2 + 3 * t * power.c3, power.c3};
}

std::array<double, 6> HermitePiece::gradient(double at) const
{
    const double width = x1 - x0;
    const double s = (at - x0) / width;
    const double r = (x1 - at) / width;  // 1 - s without cancellation near the right end
    const double slope = first_derivative(at);
    const double of_d0 = s * r * r;  // in units of the width
    const double of_d1 = -s * s * r;
    const double stretch = d0 * of_d0 + d1 * of_d1;  // derivative by the width at fixed s
    return {-slope * r - stretch, -slope * s + stretch, r * r * (1 + 2 * s),
            s * s * (1 + 2 * r),  width * of_d0,        width * of_d1};
}

double monotone_slope(std::span<const double> x, std::span<const double> y, std::size_t index)
{
    const auto width = [&](std::size_t i) { return x[i + 1] - x[i]; };
    const auto secant = [&](std::size_t i) { return (y[i + 1] - y[i]) / width(i); };
    if (index == 0)
        return secant(0);
    if (index == x.size() - 1)
        return secant(index - 1);
    const double before = secant(index - 1), after = secant(index);
    if (!(before * after > 0))  // also where the product underflows: flat there
        return 0;
    const double weight_before = 2 * width(index) + width(index - 1);
    const double weight_after = width(index) + 2 * width(index - 1);
    return (weight_before + weight_after) / (weight_before / before + weight_after / after);
}

void check_points(std::span<const double> x, std::span<const double> y)
{
    if (x.size() < 2 || x.size() != y.size())
        throw std::domain_error(
            fmt::format("a curve has {} abscissae and {} ordinates, expected the same number, at least 2",
                        x.size(), y.size()));
    for (std::size_t i = 0; i + 1 < x.size(); ++i)
        if (!(x[i + 1] - x[i] > 0))
            throw std::domain_error(
                fmt::format("abscissa {} follows {} in a curve, expected increasing values", x[i + 1], x[i]));
    for (std::size_t i = 0; i < x.size(); ++i)
        if (!std::isfinite(x[i]) || !std::isfinite(y[i]))
            throw std::domain_error(
                fmt::format("point {} of a curve is ({}, {}), expected finite values", i + 1, x[i], y[i]));
}

std::size_t piece_index(std::span<const double> x, double at)
{
    const auto above = std::ranges::upper_bound(x, at);
    const auto index = std::max<std::ptrdiff_t>(above - x.begin() - 1, 0);
    return std::min(static_cast<std::size_t>(index), x.size() - 2);
}

std::vector<double> monotone_slopes(std::span<const double> x, std::span<const double> y)
{
    check_points(x, y);
    std::vector<double> slopes(x.size());
    for (std::size_t i = 0; i < x.size(); ++i)
        slopes[i] = monotone_slope(x, y, i);
    return slopes;
}

void pull_back_slopes(std::span<const double> x, std::span<const double> y,
                      std::span<const double> slope_adjoints, std::span<double> x_adjoints,
                      std::span<double> y_adjoints)
{
    const std::size_t last = x.size() - 1;
    // Adjoints of widths h_i and secants m_i first, then of the points.
    std::vector<double> of_width(last), of_secant(last, 0.0);
    const auto width = [&](std::size_t i) { return x[i + 1] - x[i]; };
    const auto secant = [&](std::size_t i) { return (y[i + 1] - y[i]) / width(i); };
    of_secant.at(0) += slope_adjoints.front();
    of_secant.at(last - 1) += slope_adjoints.back();
    for (std::size_t i = 1; i < last; ++i) {
        const double adjoint = slope_adjoints[i];
        const double before = secant(i - 1), after = secant(i);
        if (adjoint == 0 || !(before * after > 0))
            continue;
        const double h0 = width(i - 1), h1 = width(i);
        const double total = 3 * (h0 + h1);
        const double sum = (2 * h1 + h0) / before + (h1 + 2 * h0) / after;
        const double slope = total / sum;
        of_secant[i - 1] += adjoint * slope / sum * (2 * h1 + h0) / (before * before);
        of_secant[i] += adjoint * slope / sum * (h1 + 2 * h0) / (after * after);
        of_width[i - 1] += adjoint * (3 - slope * (1 / before + 2 / after)) / sum;
        of_width[i] += adjoint * (3 - slope * (2 / before + 1 / after)) / sum;
    }
    for (std::size_t i = 0; i < last; ++i) {
        const double of_rise = of_secant[i] / width(i);
        const double of_step = of_width[i] - of_secant[i] * secant(i) / width(i);
        y_adjoints[i + 1] += of_rise;
        y_adjoints[i] -= of_rise;
        x_adjoints[i + 1] += of_step;
        x_adjoints[i] -= of_step;
    }
}

}  // namespace luxdossier::photometry
