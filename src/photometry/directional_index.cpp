#include "photometry/directional_index.hpp"
#include "photometry/curve.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <iterator>
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

/// The integral hardly depends on where it is parted, as the deviation is 0 there: 40 bits are many.
template <class Function>
double root_of(const Function& function, double low, double high, double at_low, double at_high)
{
    std::uintmax_t iterations = 200;
    const auto bracket = boost::math::tools::toms748_solve(
        function, low, high, at_low, at_high, boost::math::tools::eps_tolerance<double>(40), iterations);
    return bracket.first + (bracket.second - bracket.first) / 2;
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
        roots.add(root_of(function, low, high, at_low, at_high));
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

/// Sine and cosine of an angle of at most 0.35 rad, by their series, to rounding.
struct SmallTurn {
    double sine = 0, cosine = 1;
    explicit SmallTurn(double angle_rad)
    {
        const double square = angle_rad * angle_rad;
        sine =
            angle_rad *
            (1 - square / 6 * (1 - square / 20 * (1 - square / 42 * (1 - square / 72 * (1 - square / 110)))));
        cosine =
            1 - square / 2 * (1 - square / 12 * (1 - square / 30 * (1 - square / 56 * (1 - square / 90))));
    }
};

/// A piece less the cosine, the cubic about the lower end of a stretch.
class Deviation {
public:
    Deviation(const HermitePiece& piece, double from_rad, double to_rad)
        : piece_(&piece), from_(from_rad), to_(to_rad), value_(piece.value(from_rad)),
          slope_(piece.first_derivative(from_rad)), half_second_(piece.second_derivative(from_rad) / 2),
          sixth_third_(piece.third_derivative() / 6)
    {
    }
    [[nodiscard]] double cubic(double at_rad) const
    {
        const double t = at_rad - from_;
        return value_ + t * (slope_ + t * (half_second_ + t * sixth_third_));
    }

    /// Where it changes sign, strictly between the ends.
    [[nodiscard]] Stops find_sign_changes() const
    {
        Stops found;
        if (!search(end(from_), end(to_), halvings, found))
            return sign_changes(*piece_, from_, to_);
        return found;
    }

private:
    static constexpr int halvings = 5;
    struct End {
        double at, value, slope;
    };
    [[nodiscard]] End end(double at_rad) const
    {
        const double t = at_rad - from_;
        return {at_rad, cubic(at_rad) - std::cos(at_rad),
                slope_ + t * (2 * half_second_ + t * 3 * sixth_third_) + std::sin(at_rad)};
    }

    /// Adds the sign changes between two ends. They are told by the coefficients of Bernstein of the cubic
    /// less the cubic that meets the cosine and its slope at both ends, where they keep far enough from 0 or
    /// rise or fall throughout; that second cubic misses the cosine by at most width^4/384 and its slope by
    /// less than width^3/100 (Hermite interpolation; from memory). Otherwise the halves are asked; false:
    /// they do not tell either.
    [[nodiscard]] bool search(const End& a, const End& b, int halvings_left, Stops& found) const
    {
        const double third = (b.at - a.at) / 3;
        const double coefficients[] = {a.value, a.value + third * a.slope, b.value - third * b.slope,
                                       b.value};
        const double fourth_power = 81 * third * third * third * third;
        const auto all_beyond = [](double bound, double least, double greatest) {
            return least > bound || greatest < -bound;
        };
        const auto [least, greatest] = std::minmax_element(std::begin(coefficients), std::end(coefficients));
        if (all_beyond(fourth_power / 384, *least, *greatest))
            return true;
        const double steps[] = {coefficients[1] - coefficients[0], coefficients[2] - coefficients[1],
                                coefficients[3] - coefficients[2]};
        const auto [least_step, greatest_step] = std::minmax_element(std::begin(steps), std::end(steps));
        if (a.value * b.value < 0 && all_beyond(fourth_power / 300, *least_step, *greatest_step)) {
            found.add(
                root_of([&](double at) { return cubic(at) - std::cos(at); }, a.at, b.at, a.value, b.value));
            return true;
        }
        if (halvings_left == 0)
            return false;
        const End middle = end(a.at + (b.at - a.at) / 2);
        return middle.value != 0 && search(a, middle, halvings_left - 1, found) &&
               search(middle, b, halvings_left - 1, found);
    }

    const HermitePiece* piece_;
    double from_, to_, value_, slope_, half_second_, sixth_third_;
};

/// Nodes of the Gauss rule carry 7 points: a cubic times a sine over at most `widest` is integrated to
/// rounding.
constexpr double widest = 0.35;

/// Calls add(at, factor, deviation) for all points of the quadrature: the integral is the sum of factor times
/// deviation.
template <class Add>
void each_point(const HermitePiece& piece, double from_rad, double to_rad, Add&& add)
{
    if (!(to_rad > from_rad))
        return;
    const Deviation deviation(piece, from_rad, to_rad);
    const auto limits = with_ends(from_rad, deviation.find_sign_changes(), to_rad);
    using Rule = boost::math::quadrature::gauss<double, 7>;
    const auto& nodes = Rule::abscissa();
    const auto& weights = Rule::weights();
    for (std::size_t i = 0; i + 1 < limits.size(); ++i) {
        const double width = limits[i + 1] - limits[i];
        const auto parts = static_cast<int>(std::ceil(width / widest));
        const double middle = limits[i] + width / 2;
        const double sign = deviation.cubic(middle) >= std::cos(middle) ? 1.0 : -1.0;
        for (int part = 0; part < parts; ++part) {
            const double centre = limits[i] + width * (part + 0.5) / parts, half = width / (2 * parts);
            const double sine = std::sin(centre), cosine = std::cos(centre);
            const auto weighted = [&](double offset, const SmallTurn& turn, double side, double weight) {
                const double sine_there = sine * turn.cosine + side * cosine * turn.sine;
                const double cosine_there = cosine * turn.cosine - side * sine * turn.sine;
                const double at = centre + side * offset;
                add(at, 2 * sign * weight * half * std::abs(sine_there), deviation.cubic(at) - cosine_there);
            };
            weighted(0, SmallTurn(0), 1, weights[0]);
            for (std::size_t j = 1; j < nodes.size(); ++j) {
                const double offset = half * nodes[j];
                const SmallTurn turn(offset);
                weighted(offset, turn, -1, weights[j]);
                weighted(offset, turn, 1, weights[j]);
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
               [&](double, double factor, double deviation) { total += factor * deviation; });
    return total;
}

PieceIndex integrate_deviation(const HermitePiece& piece, double from_rad, double to_rad)
{
    PieceIndex total;
    each_point(piece, from_rad, to_rad, [&](double at, double factor, double deviation) {
        total.value += factor * deviation;
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
