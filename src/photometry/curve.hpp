#pragma once

#include "uncertainty/graph.hpp"

#include <memory>
#include <optional>
#include <span>
#include <vector>

namespace luxdossier::photometry {

struct HermitePiece;

/// Monotone cubic through (x, y), x strictly increasing: inner slopes by the weighted harmonic mean of the
/// secants (Fritsch and Butland 1984, the weights of Fritsch-Butland as in SciPy's PchipInterpolator), end
/// slopes the secants.
///
/// Domain: at least 2 points, finite. Errors: std::domain_error.
class MonotoneCubic {
public:
    MonotoneCubic(std::span<const double> x, std::span<const double> y);
    [[nodiscard]] double operator()(double at) const;  ///< no extrapolation: std::domain_error outside
    [[nodiscard]] double derivative(double at) const;  ///< likewise
    [[nodiscard]] std::span<const double> slopes() const { return slopes_; }
    [[nodiscard]] std::span<const double> x() const { return x_; }
    [[nodiscard]] std::span<const double> y() const { return y_; }
    /// All crossings of a level, ascending. A node on the level is a crossing where the curve passes through
    /// it, not where it only touches; of a plateau on the level both ends are given.
    [[nodiscard]] std::vector<double> crossings(double level) const;
    /// Index of the piece [x_i, x_(i+1)] that holds `at`; the first or the last one for what lies outside.
    [[nodiscard]] std::size_t piece_index(double at) const;
    /// The cubic of one piece; it may be continued beyond its ends.
    [[nodiscard]] HermitePiece piece(std::size_t index) const;
    /// Crossing of the level by the chord of the piece that holds `at`; empty where the chord is level.
    [[nodiscard]] std::optional<double> chord_crossing(double at, double level) const;

private:
    std::vector<double> x_, y_, slopes_;
};

/// crossings() of the curve through points, without making the curve: for trials. Errors: std::domain_error.
[[nodiscard]] std::vector<double> crossings_of(std::span<const double> x, std::span<const double> y,
                                               double level);

/// Angle to which the directional response index is integrated: 80 degrees.
inline constexpr double directional_index_limit_rad = 1.3962634015954636;

/// f2 = 2 int_0^80deg |rho - cos| sin dtheta over one side's curve given at angles (rad, may be signed; the
/// side is chosen by `negative`), exact to 1e-12 by piecewise quadrature split at nodes and zero crossings
/// (ISO/CIE 19476, directional response index).
///
/// Domain: the curve reaches from 0 to the limit on that side (to 1e-9 rad). Errors: std::domain_error.
[[nodiscard]] double directional_index(const MonotoneCubic& rho, bool negative);

/// Mean of both sides' directional_index of the curve through points, without making the curve: for trials.
/// Where it ends before the limit, its last piece is continued. Errors: std::domain_error.
[[nodiscard]] double mean_directional_index(std::span<const double> x, std::span<const double> y);

/// Estimators for the graph: inputs angle_1..angle_n (rad), rho_1..rho_n, in increasing order of angle.
/// Angle of the crossing of `level` in the segment that holds it at the estimates; `index` chooses among
/// crossings(). NaN where the inputs make a curve that has no such crossing.
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator> crossing_estimator(double level,
                                                                               std::size_t index);
/// f2, mean of both sides. One output. The end pieces are continued where shifted angles fall short of the
/// limit.
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator> directional_index_estimator();
/// Target read from its own curve at an angle (one input, one output): rho_target(theta). The end pieces are
/// continued.
[[nodiscard]] std::shared_ptr<const uncertainty::Estimator> target_estimator(MonotoneCubic target);

}  // namespace luxdossier::photometry
