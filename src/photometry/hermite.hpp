#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace luxdossier::photometry {

/// One cubic piece in Hermite form: end points (x0, y0), (x1, y1) and end slopes d0, d1.
struct HermitePiece {
    double x0 = 0, x1 = 1, y0 = 0, y1 = 0, d0 = 0, d1 = 0;

    /// Value and slopes of the polynomial; it may be asked for beyond its ends.
    [[nodiscard]] double value(double at) const;
    [[nodiscard]] double first_derivative(double at) const;
    [[nodiscard]] double second_derivative(double at) const;
    [[nodiscard]] double third_derivative() const;
    /// Coefficients of the polynomial in powers of the distance from `at`, from the constant on.
    [[nodiscard]] std::array<double, 4> about(double at) const;
    /// Derivatives of value(at) with respect to x0, x1, y0, y1, d0, d1, at fixed `at`.
    [[nodiscard]] std::array<double, 6> gradient(double at) const;
};

/// Slopes of the monotone cubic at its nodes: inside, the weighted harmonic mean of the two secants, 0 where
/// they differ in sign or one is 0; at the ends the secants.
///
/// Domain: at least 2 points, finite, x strictly increasing. Errors: std::domain_error.
/// Source: Fritsch, F. N. and Butland, J., SIAM J. Sci. Stat. Comput. 5 (1984) 300-304.
[[nodiscard]] std::vector<double> monotone_slopes(std::span<const double> x, std::span<const double> y);

/// One of them, without looking at the others; nothing is checked.
[[nodiscard]] double monotone_slope(std::span<const double> x, std::span<const double> y, std::size_t index);
/// What a curve asks of its points. Errors: std::domain_error.
void check_points(std::span<const double> x, std::span<const double> y);
/// Index of the piece [x_i, x_(i+1)] that holds `at`; the first or the last one for what lies outside.
[[nodiscard]] std::size_t piece_index(std::span<const double> x, double at);

/// Vector-Jacobian product of monotone_slopes: adds to x_adjoints and y_adjoints. Where a secant is 0 the
/// slope has a kink; the derivative is then that of the flat side, 0.
void pull_back_slopes(std::span<const double> x, std::span<const double> y,
                      std::span<const double> slope_adjoints, std::span<double> x_adjoints,
                      std::span<double> y_adjoints);

}  // namespace luxdossier::photometry
