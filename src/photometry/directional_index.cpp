#include "photometry/directional_index.hpp"
#include "photometry/curve.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <iterator>
#include <stdexcept>
#include <utility>

#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/tools/roots.hpp>
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

/// 1 - x(1/a)(1 - x(1/b)( ... )): how a series with alternating signs is summed, divisors a, b, ...
template <class... Divisors>
constexpr double alternating(double x, double divisor, Divisors... divisors)
{
    if constexpr (sizeof...(divisors) == 0)
        return 1 - x * (1 / divisor);
    else
        return 1 - x * (1 / divisor) * alternating(x, divisors...);
}

/// Of an angle up to this the series give sine and cosine to rounding.
constexpr double reach = 0.175;
SineCosine of_small(double angle_rad)
{
    const double square = angle_rad * angle_rad;
    return {angle_rad * alternating(square, 6, 20, 42, 72, 110), alternating(square, 2, 12, 30, 56, 90)};
}

SineCosine turned_by(const SineCosine& known, const SineCosine& turn)
{
    return {known.sine * turn.cosine + known.cosine * turn.sine,
            known.cosine * turn.cosine - known.sine * turn.sine};
}

/// Sine and cosine near an angle of which they are known.
class Turn {
public:
    explicit Turn(double angle_rad) : Turn(angle_rad, {std::sin(angle_rad), std::cos(angle_rad)}) {}
    Turn(double angle_rad, const SineCosine& known) : angle_(angle_rad), known_(known) {}
    [[nodiscard]] SineCosine at(double angle_rad) const
    {
        if (!(std::abs(angle_rad - angle_) <= reach))
            return {std::sin(angle_rad), std::cos(angle_rad)};
        return turned_by(known_, of_small(angle_rad - angle_));
    }

private:
    double angle_;
    SineCosine known_;
};

/// A cubic in powers of the distance from an angle.
struct Cubic {
    std::array<double, 4> power;
    [[nodiscard]] double value(double t) const
    {
        return power[0] + t * (power[1] + t * (power[2] + t * power[3]));
    }
    [[nodiscard]] double slope(double t) const { return power[1] + t * (2 * power[2] + t * 3 * power[3]); }
};

/// Integral of the deviation of a cubic from the cosine, times the sine, within `half` <= reach of an angle
/// at the distance `t`; sine and cosine are known there and of `half`. With sine and cosine about that angle,
/// the powers of the cubic meet the sine or the cosine of the distance, of which the integrals are series.
double integral_about(const Cubic& cubic, double t, double half, const SineCosine& there,
                      const SineCosine& of_half)
{
    const double square = half * half, cube = 2 * half * square;
    const double second = cubic.power[2] + 3 * t * cubic.power[3];
    // s^2 cos s, s sin s, s^3 sin s
    const double even =
        cube *
        (1.0 / 3 - square * (1.0 / 10 - square * (1.0 / 168 - square * (1.0 / 6480 - square / 443520))));
    const double odd =
        cube *
        (1.0 / 3 - square * (1.0 / 30 - square * (1.0 / 840 - square * (1.0 / 45360 - square / 3991680))));
    const double cubic_odd =
        cube * square *
        (1.0 / 5 - square * (1.0 / 42 - square * (1.0 / 1080 - square * (1.0 / 55440 - square / 4717440))));
    return there.sine *
               (2 * of_half.sine * (cubic.value(t) - there.cosine * of_half.cosine) + second * even) +
           there.cosine * (cubic.slope(t) * odd + cubic.power[3] * cubic_odd);
}

/// The deviation at one end of a stretch.
struct DeviationEnd {
    double at, value, slope;
};

/// Do all these lie beyond the bound on one side of 0? Without branches: it is asked of every piece of every
/// trial.
template <std::size_t n>
bool all_beyond(double bound, const std::array<double, n>& values)
{
    double least = values[0], greatest = values[0];
    for (std::size_t i = 1; i < n; ++i) {
        least = std::min(least, values[i]);
        greatest = std::max(greatest, values[i]);
    }
    return (least > bound) | (greatest < -bound);
}

/// What the deviation does between two ends, told by the coefficients of Bernstein of the cubic less the
/// cubic that meets the cosine and its slope at both ends. That second cubic misses the cosine by at most
/// width^4/384 and its slope by less than width^3/100 (Hermite interpolation).
class Course {
public:
    Course(const DeviationEnd& a, const DeviationEnd& b)
    {
        const double third = (b.at - a.at) * (1.0 / 3);
        coefficients_ = {a.value, a.value + third * a.slope, b.value - third * b.slope, b.value};
        fourth_power_ = 81 * third * third * third * third;
    }
    /// It is far enough from 0 throughout.
    [[nodiscard]] bool keeps_sign() const { return all_beyond(fourth_power_ * (1.0 / 384), coefficients_); }
    [[nodiscard]] bool is_monotone() const
    {
        const std::array steps{coefficients_[1] - coefficients_[0], coefficients_[2] - coefficients_[1],
                               coefficients_[3] - coefficients_[2]};
        return all_beyond(fourth_power_ * (1.0 / 300), steps);
    }

private:
    std::array<double, 4> coefficients_{};
    double fourth_power_ = 0;
};

/// A piece less the cosine, the cubic about the lower end of a stretch.
class Deviation {
public:
    Deviation(const HermitePiece& piece, double from_rad, double to_rad)
        : Deviation(piece, from_rad, to_rad, Turn(from_rad + (to_rad - from_rad) / 2))
    {
    }
    Deviation(const HermitePiece& piece, double from_rad, double to_rad, const Turn& about_centre)
        : piece_(&piece), from_(from_rad), to_(to_rad), cubic_{piece.about(from_rad)}, turn_(about_centre)
    {
    }
    [[nodiscard]] double from() const { return from_; }
    [[nodiscard]] double to() const { return to_; }
    [[nodiscard]] SineCosine turn(double at_rad) const { return turn_.at(at_rad); }
    [[nodiscard]] double cubic(double at_rad) const { return cubic_.value(at_rad - from_); }

    /// Integral of deviation times sine within `half` <= reach of an angle.
    [[nodiscard]] double integral_about(double centre_rad, double half) const
    {
        return photometry::integral_about(cubic_, centre_rad - from_, half, turn(centre_rad), of_small(half));
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
    using End = DeviationEnd;
    /// Of a deviation that rises or falls throughout: Newton from where the chord crosses 0. A step that
    /// begins with 20 bits ends with 40.
    [[nodiscard]] double root_between(const End& a, const End& b) const
    {
        const auto value_and_slope = [this](double at_rad) {
            const auto there = end(at_rad);
            return std::pair(there.value, there.slope);
        };
        const double chord = a.at + (b.at - a.at) * a.value / (a.value - b.value);
        std::uintmax_t iterations = 200;
        return boost::math::tools::newton_raphson_iterate(value_and_slope, chord, a.at, b.at, 20, iterations);
    }
    [[nodiscard]] End end(double at_rad) const
    {
        const auto there = turn(at_rad);
        return {at_rad, cubic(at_rad) - there.cosine, cubic_.slope(at_rad - from_) + there.sine};
    }

    /// Adds the sign changes between two ends, where their course tells them. Otherwise the halves are asked;
    /// false: they do not tell either.
    [[nodiscard]] bool search(const End& a, const End& b, int halvings_left, Stops& found) const
    {
        const Course course(a, b);
        if (course.keeps_sign())
            return true;
        if (a.value * b.value < 0 && course.is_monotone()) {
            found.add(root_between(a, b));
            return true;
        }
        if (halvings_left == 0)
            return false;
        const End middle = end(a.at + (b.at - a.at) / 2);
        return middle.value != 0 && search(a, middle, halvings_left - 1, found) &&
               search(middle, b, halvings_left - 1, found);
    }

    const HermitePiece* piece_;
    double from_, to_;
    Cubic cubic_;  ///< about from_
    Turn turn_;
};

/// Calls part(deviation, centre, half, sign) for parts of one sign that are no wider than twice `reach`;
/// `sign` is that of the deviation times that of the sine.
template <class Part>
void each_part(const Deviation& deviation, Part&& part_of)
{
    const auto limits = with_ends(deviation.from(), deviation.find_sign_changes(), deviation.to());
    for (std::size_t i = 0; i + 1 < limits.size(); ++i) {
        const double width = limits[i + 1] - limits[i];
        const auto parts = static_cast<int>(std::ceil(width / (2 * reach)));
        for (int part = 0; part < parts; ++part) {
            const double centre = limits[i] + width * (part + 0.5) / parts;
            const auto there = deviation.turn(centre);
            const bool is_positive = (deviation.cubic(centre) >= there.cosine) == (there.sine >= 0);
            part_of(deviation, centre, width / (2 * parts), is_positive ? 1.0 : -1.0);
        }
    }
}

double integral_of_magnitude(const Deviation& deviation)
{
    double total = 0;
    each_part(deviation, [&](const Deviation& part, double centre, double half, double sign) {
        total += 2 * sign * part.integral_about(centre, half);
    });
    return total;
}

}  // namespace

std::vector<double> deviation_sign_changes(const HermitePiece& piece, double from_rad, double to_rad)
{
    const auto found = sign_changes(piece, from_rad, to_rad);
    return {found.begin(), found.end()};
}

double integrated_deviation(const HermitePiece& piece, double from_rad, double to_rad)
{
    return to_rad > from_rad ? integral_of_magnitude(Deviation(piece, from_rad, to_rad)) : 0;
}

DeviationWalk::DeviationWalk(double from_rad) : at_(from_rad), here_{std::sin(from_rad), std::cos(from_rad)}
{
}

double DeviationWalk::up_to(const HermitePiece& piece, double to_rad)
{
    const double from = std::exchange(at_, to_rad), half = (to_rad - from) / 2;
    if (!(half > 0))
        return 0;
    if (!(half <= reach)) {
        here_ = {std::sin(to_rad), std::cos(to_rad)};
        return integrated_deviation(piece, from, to_rad);
    }
    const auto of_half = of_small(half);
    const auto begin = here_, centre = turned_by(begin, of_half);
    here_ = turned_by(centre, of_half);
    const Cubic cubic{piece.about(from)};
    const auto end_at = [&](double at, double t, const SineCosine& there) {
        return DeviationEnd{at, cubic.value(t) - there.cosine, cubic.slope(t) + there.sine};
    };
    if (!Course(end_at(from, 0, begin), end_at(to_rad, 2 * half, here_)).keeps_sign())
        return integral_of_magnitude(Deviation(piece, from, to_rad, Turn(from + half, centre)));
    const bool is_positive = (cubic.value(half) >= centre.cosine) == (centre.sine >= 0);
    return (is_positive ? 2 : -2) * integral_about(cubic, half, half, centre, of_half);
}

std::array<double, 6> integrated_deviation_gradient(const HermitePiece& piece, double from_rad, double to_rad)
{
    std::array<double, 6> total{};
    if (!(to_rad > from_rad))
        return total;
    // 7 points: a cubic times a sine is integrated to rounding over what a part spans.
    using Rule = boost::math::quadrature::gauss<double, 7>;
    const auto& nodes = Rule::abscissa();
    const auto& weights = Rule::weights();
    each_part(Deviation(piece, from_rad, to_rad),
              [&](const Deviation& deviation, double centre, double half, double sign) {
                  const auto weighted = [&](double at, double weight) {
                      const double factor = 2 * sign * weight * half * deviation.turn(at).sine;
                      const auto gradient = piece.gradient(at);
                      for (std::size_t j = 0; j < gradient.size(); ++j)
                          total[j] += factor * gradient[j];
                  };
                  weighted(centre, weights[0]);
                  for (std::size_t j = 1; j < nodes.size(); ++j) {
                      weighted(centre - half * nodes[j], weights[j]);
                      weighted(centre + half * nodes[j], weights[j]);
                  }
              });
    return total;
}

double mean_directional_index(std::span<const double> x, std::span<const double> y)
{
    check_points(x, y);
    const double limit = directional_index_limit_rad;
    const std::size_t first = piece_index(x, -limit), last = piece_index(x, limit);
    DeviationWalk walk(-limit);
    double sum = 0, next_slope = monotone_slope(x, y, first);
    for (std::size_t i = first; i <= last; ++i) {
        const double slope = std::exchange(next_slope, monotone_slope(x, y, i + 1));
        const HermitePiece piece{x[i], x[i + 1], y[i], y[i + 1], slope, next_slope};
        const double end = i == last ? limit : piece.x1;
        if (piece.x0 < 0 && end > 0)  // parted at 0
            sum += walk.up_to(piece, 0);
        sum += walk.up_to(piece, end);
    }
    return sum / 2;
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
    DeviationWalk walk(from);
    const std::size_t last = rho.piece_index(to);
    for (std::size_t i = rho.piece_index(from); i <= last; ++i) {
        const auto piece = rho.piece(i);
        sum += walk.up_to(piece, i == last ? to : piece.x1);
    }
    return sum;
}

}  // namespace luxdossier::photometry
