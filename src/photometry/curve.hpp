#pragma once

#include "uncertainty/graph.hpp"

#include <memory>
#include <span>
#include <vector>

namespace luxdossier::photometry {

/// Monotone cubic through (x, y), x strictly increasing: inner slopes by the weighted harmonic mean of the secants
/// (Fritsch and Butland 1984, the weights of Fritsch-Butland as in SciPy's PchipInterpolator), end slopes the secants.
class MonotoneCubic {
public:
    MonotoneCubic(std::span<const double> x, std::span<const double> y);
    [[nodiscard]] double operator()(double at) const;   ///< no extrapolation: std::domain_error outside
    [[nodiscard]] double derivative(double at) const;
    [[nodiscard]] std::span<const double> slopes() const { return slopes_; }
    [[nodiscard]] std::span<const double> x() const { return x_; }
    [[nodiscard]] std::span<const double> y() const { return y_; }
    /// All crossings of a level, ascending.
    [[nodiscard]] std::vector<double> crossings(double level) const;

private:
    std::vector<double> x_, y_, slopes_;
};

/// f2 = 2 int_0^80deg |rho - cos| sin dtheta over one side's curve given at angles (rad, may be signed; the side is
/// chosen by `negative`), exact to 1e-12 by piecewise quadrature split at nodes and zero crossings
/// (ISO/CIE 19476, directional response index, from memory).
[[nodiscard]] double directional_index(const MonotoneCubic& rho, bool negative);

/// Estimators for the graph: inputs angle_1..angle_n (rad), rho_1..rho_n, in increasing order of angle.
/// Angle of the crossing of `level` in the segment that holds it at the estimates; `index` chooses among crossings().
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator> crossing_estimator(double level, std::size_t index);
/// f2, mean of both sides. One output.
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator> directional_index_estimator();
/// Target read from its own curve at an angle (one input, one output): rho_target(theta).
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator> target_estimator(MonotoneCubic target);

}  // namespace luxdossier::photometry
