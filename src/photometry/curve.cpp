#include "photometry/curve.hpp"
#include "photometry/hermite.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <boost/math/tools/roots.hpp>
#include <fmt/format.h>

namespace luxdossier::photometry {
namespace {

int sign_of(double value)
{
    return value > 0 ? 1 : value < 0 ? -1 : 0;
}

/// Root of a monotone piece whose ends lie on different sides of the level: Newton from where the chord
/// crosses it. A step that begins with 30 bits ends with all of them.
double root_inside(const HermitePiece& piece, double level)
{
    const auto distance = [&](double at) {
        return std::pair(piece.value(at) - level, piece.first_derivative(at));
    };
    const double chord = piece.x0 + (piece.x1 - piece.x0) * ((level - piece.y0) / (piece.y1 - piece.y0));
    std::uintmax_t iterations = 200;
    return boost::math::tools::newton_raphson_iterate(distance, chord, piece.x0, piece.x1, 30, iterations);
}

/// `piece_of(i)` gives the cubic between points i and i + 1.
template <class PieceOf>
std::vector<double> find_crossings(std::span<const double> x, std::span<const double> y, double level,
                                   PieceOf&& piece_of)
{
    std::vector<double> found;
    std::optional<std::size_t> last_off;  // the last node that is not on the level
    for (std::size_t i = 0; i < x.size(); ++i) {
        const int side = sign_of(y[i] - level);
        if (side == 0)
            continue;
        if (last_off && sign_of(y[*last_off] - level) != side) {
            if (i == *last_off + 1) {
                found.push_back(root_inside(piece_of(*last_off), level));
            } else {
                found.push_back(x[*last_off + 1]);
                if (i > *last_off + 2)
                    found.push_back(x[i - 1]);
            }
        }
        last_off = i;
    }
    return found;
}

}  // namespace

MonotoneCubic::MonotoneCubic(std::span<const double> x, std::span<const double> y)
    : x_(x.begin(), x.end()), y_(y.begin(), y.end()), slopes_(monotone_slopes(x, y))
{
}

std::size_t MonotoneCubic::piece_index(double at) const
{
    return photometry::piece_index(x_, at);
}

HermitePiece MonotoneCubic::piece(std::size_t index) const
{
    return {x_.at(index), x_.at(index + 1), y_[index], y_[index + 1], slopes_[index], slopes_[index + 1]};
}

double MonotoneCubic::operator()(double at) const
{
    if (!(at >= x_.front() && at <= x_.back()))
        throw std::domain_error(
            fmt::format("a curve from {} to {} was asked for its value at {}", x_.front(), x_.back(), at));
    return piece(piece_index(at)).value(at);
}

double MonotoneCubic::derivative(double at) const
{
    if (!(at >= x_.front() && at <= x_.back()))
        throw std::domain_error(
            fmt::format("a curve from {} to {} was asked for its slope at {}", x_.front(), x_.back(), at));
    return piece(piece_index(at)).first_derivative(at);
}

std::vector<double> MonotoneCubic::crossings(double level) const
{
    return find_crossings(x_, y_, level, [this](std::size_t index) { return piece(index); });
}

std::vector<double> crossings_of(std::span<const double> x, std::span<const double> y, double level)
{
    check_points(x, y);
    return find_crossings(x, y, level, [&](std::size_t i) {
        return HermitePiece{
            x[i], x[i + 1], y[i], y[i + 1], monotone_slope(x, y, i), monotone_slope(x, y, i + 1)};
    });
}

std::optional<double> MonotoneCubic::chord_crossing(double at, double level) const
{
    const auto held = piece(piece_index(at));
    if (held.y0 == held.y1)
        return std::nullopt;
    return held.x0 + (level - held.y0) / (held.y1 - held.y0) * (held.x1 - held.x0);
}

}  // namespace luxdossier::photometry
