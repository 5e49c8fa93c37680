#include "photometry/directional_index.hpp"
#include "photometry/curve.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <stdexcept>

#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <fmt/format.h>

namespace luxdossier::photometry {
namespace {

using Function = std::function<double(double)>;

std::vector<double> with_ends(double from, const std::vector<double>& inner, double to)
{
    std::vector<double> all;
    all.reserve(inner.size() + 2);
    all.push_back(from);
    all.insert(all.end(), inner.begin(), inner.end());
    all.push_back(to);
    return all;
}

/// Sign changes of a function that is monotone between consecutive `turning` points.
std::vector<double> roots_between(const Function& function, double from, double to,
                                  const std::vector<double>& turning)
{
    const auto limits = with_ends(from, turning, to);
    std::vector<double> roots;
    for (std::size_t i = 0; i + 1 < limits.size(); ++i) {
        const double low = limits[i], high = limits[i + 1];
        const double at_low = function(low), at_high = function(high);
        if (at_low * at_high > 0 || at_low == at_high)
            continue;
        if (at_low == 0 || at_high == 0) {
            const double root = at_low == 0 ? low : high;
            if (root > from && root < to && (roots.empty() || roots.back() != root))
                roots.push_back(root);
            continue;
        }
        std::uintmax_t iterations = 200;
        const auto bracket = boost::math::tools::toms748_solve(
            function, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>(53), iterations);
        roots.push_back(bracket.first + (bracket.second - bracket.first) / 2);
    }
    return roots;
}

/// Nodes of the Gauss rule carry 15 points: a cubic times a sine over at most `widest` is integrated to
/// rounding.
constexpr double widest = 0.35;

}  // namespace

std::vector<double> deviation_sign_changes(const HermitePiece& piece, double from_rad, double to_rad)
{
    // The deviation g = piece - cos has g''' = constant - sin, monotone within 90 degrees of 0 on one side;
    // so g''' has one root at most, which parts g'' into monotone stretches, whose roots part g', whose roots
    // part g.
    const Function third = [&](double at) { return piece.third_derivative() - std::sin(at); };
    const Function second = [&](double at) { return piece.second_derivative(at) + std::cos(at); };
    const Function first = [&](double at) { return piece.first_derivative(at) + std::sin(at); };
    const Function deviation = [&](double at) { return piece.value(at) - std::cos(at); };
    auto turning = roots_between(third, from_rad, to_rad, {});
    turning = roots_between(second, from_rad, to_rad, turning);
    turning = roots_between(first, from_rad, to_rad, turning);
    return roots_between(deviation, from_rad, to_rad, turning);
}

PieceIndex integrate_deviation(const HermitePiece& piece, double from_rad, double to_rad)
{
    PieceIndex total;
    if (!(to_rad > from_rad))
        return total;
    const auto limits = with_ends(from_rad, deviation_sign_changes(piece, from_rad, to_rad), to_rad);
    using Rule = boost::math::quadrature::gauss<double, 15>;
    for (std::size_t i = 0; i + 1 < limits.size(); ++i) {
        const double width = limits[i + 1] - limits[i];
        const auto parts = static_cast<int>(std::ceil(width / widest));
        const double middle = limits[i] + width / 2;
        const double sign = piece.value(middle) >= std::cos(middle) ? 1.0 : -1.0;
        for (int part = 0; part < parts; ++part) {
            const double centre = limits[i] + width * (part + 0.5) / parts, half = width / (2 * parts);
            const auto add = [&](double at, double weight) {
                const double factor = 2 * sign * weight * half * std::abs(std::sin(at));
                total.value += factor * (piece.value(at) - std::cos(at));
                const auto gradient = piece.gradient(at);
                for (std::size_t j = 0; j < gradient.size(); ++j)
                    total.gradient[j] += factor * gradient[j];
            };
            const auto& nodes = Rule::abscissa();
            const auto& weights = Rule::weights();
            add(centre, weights[0]);
            for (std::size_t j = 1; j < nodes.size(); ++j) {
                add(centre - half * nodes[j], weights[j]);
                add(centre + half * nodes[j], weights[j]);
            }
        }
    }
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
        sum += integrate_deviation(piece, i == first ? from : piece.x0, i == last ? to : piece.x1).value;
    }
    return sum;
}

}  // namespace luxdossier::photometry
