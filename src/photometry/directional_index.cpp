#include "photometry/directional_index.hpp"
#include "photometry/curve.hpp"

#include <array>
#include <cmath>
#include <cstdint>
#include <stdexcept>

#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <fmt/format.h>

namespace luxdossier::photometry {
namespace {

/// A few values in order, kept without allocation: a cubic less a cosine has few turning points.
class Stops {
public:
    void add(double value)
    {
        if (size_ == values_.size())
            throw std::logic_error("a cubic piece crosses a cosine more often than it can");
        values_[size_++] = value;
    }
    [[nodiscard]] std::size_t size() const { return size_; }
    [[nodiscard]] double operator[](std::size_t index) const { return values_[index]; }
    [[nodiscard]] const double* begin() const { return values_.data(); }
    [[nodiscard]] const double* end() const { return values_.data() + size_; }

private:
    std::array<double, 12> values_{};
    std::size_t size_ = 0;
};

Stops with_ends(double from, const Stops& inner, double to)
{
    Stops all;
    all.add(from);
    for (const double stop : inner)
        all.add(stop);
    all.add(to);
    return all;
}

/// Sign changes of a function that is monotone between consecutive `turning` points.
template <class Function>
Stops roots_between(const Function& function, double from, double to, const Stops& turning)
{
    const auto limits = with_ends(from, turning, to);
    Stops roots;
    double at_high = function(limits[0]);
    for (std::size_t i = 0; i + 1 < limits.size(); ++i) {
        const double low = limits[i], high = limits[i + 1];
        const double at_low = at_high;
        at_high = function(high);
        if (at_low * at_high > 0 || at_low == at_high)
            continue;
        if (at_low == 0 || at_high == 0) {
            const double root = at_low == 0 ? low : high;
            if (root > from && root < to && (roots.size() == 0 || roots[roots.size() - 1] != root))
                roots.add(root);
            continue;
        }
        std::uintmax_t iterations = 200;
        const auto bracket = boost::math::tools::toms748_solve(
            function, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>(53), iterations);
        roots.add(bracket.first + (bracket.second - bracket.first) / 2);
    }
    return roots;
}

/// What deviation_sign_changes gives, without allocation.
Stops sign_changes(const HermitePiece& piece, double from_rad, double to_rad)
{
    // The deviation g = piece - cos has g''' = constant - sin, monotone within 90 degrees of 0 on one side;
    // so g''' has one root at most, which parts g'' into monotone stretches, whose roots part g', whose roots
    // part g.
    const double third_of_piece = piece.third_derivative();
    auto turning =
        roots_between([&](double at) { return third_of_piece - std::sin(at); }, from_rad, to_rad, {});
    turning = roots_between([&](double at) { return piece.second_derivative(at) + std::cos(at); }, from_rad,
                            to_rad, turning);
    turning = roots_between([&](double at) { return piece.first_derivative(at) + std::sin(at); }, from_rad,
                            to_rad, turning);
    return roots_between([&](double at) { return piece.value(at) - std::cos(at); }, from_rad, to_rad,
                         turning);
}

/// Nodes of the Gauss rule carry 15 points: a cubic times a sine over at most `widest` is integrated to
/// rounding.
constexpr double widest = 0.35;

/// Calls add(at, factor) for all points of the quadrature: the integral is the sum of factor times deviation.
template <class Add>
void each_point(const HermitePiece& piece, double from_rad, double to_rad, Add&& add)
{
    if (!(to_rad > from_rad))
        return;
    const auto limits = with_ends(from_rad, sign_changes(piece, from_rad, to_rad), to_rad);
    using Rule = boost::math::quadrature::gauss<double, 15>;
    for (std::size_t i = 0; i + 1 < limits.size(); ++i) {
        const double width = limits[i + 1] - limits[i];
        const auto parts = static_cast<int>(std::ceil(width / widest));
        const double middle = limits[i] + width / 2;
        const double sign = piece.value(middle) >= std::cos(middle) ? 1.0 : -1.0;
        for (int part = 0; part < parts; ++part) {
            const double centre = limits[i] + width * (part + 0.5) / parts, half = width / (2 * parts);
            const auto weighted = [&](double at, double weight) {
                add(at, 2 * sign * weight * half * std::abs(std::sin(at)));
            };
            const auto& nodes = Rule::abscissa();
            const auto& weights = Rule::weights();
            weighted(centre, weights[0]);
            for (std::size_t j = 1; j < nodes.size(); ++j) {
                weighted(centre - half * nodes[j], weights[j]);
                weighted(centre + half * nodes[j], weights[j]);
            }
        }
    }
}

}  // namespace

std::vector<double> deviation_sign_changes(const HermitePiece& piece, double from_rad, double to_rad)
{
    const auto found = sign_changes(piece, from_rad, to_rad);
    return {found.begin(), found.end()};
}

double integrated_deviation(const HermitePiece& piece, double from_rad, double to_rad)
{
    double total = 0;
    each_point(piece, from_rad, to_rad,
               [&](double at, double factor) { total += factor * (piece.value(at) - std::cos(at)); });
    return total;
}

PieceIndex integrate_deviation(const HermitePiece& piece, double from_rad, double to_rad)
{
    PieceIndex total;
    each_point(piece, from_rad, to_rad, [&](double at, double factor) {
        total.value += factor * (piece.value(at) - std::cos(at));
        const auto gradient = piece.gradient(at);
        for (std::size_t j = 0; j < gradient.size(); ++j)
            total.gradient[j] += factor * gradient[j];
    });
    return total;
}

double directional_index(const MonotoneCubic& rho, bool negative)
{
    constexpr double slack = 1e-9;
    const double from = negative ? -directional_index_limit_rad : 0;
    const double to = negative ? 0 : directional_index_limit_rad;
    if (rho.x().front() > from + slack || rho.x().back() < to - slack)
        throw std::domain_error(fmt::format(
            "the directional response index needs a curve from {} to {} rad, this one reaches from {} to {}",
            from, to, rho.x().front(), rho.x().back()));
    double sum = 0;
    const std::size_t first = rho.piece_index(from), last = rho.piece_index(to);
    for (std::size_t i = first; i <= last; ++i) {
        const auto piece = rho.piece(i);
        sum += integrated_deviation(piece, i == first ? from : piece.x0, i == last ? to : piece.x1);
    }
    return sum;
}

}  // namespace luxdossier::photometry
