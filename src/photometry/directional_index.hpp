#pragma once

#include "photometry/hermite.hpp"

#include <array>
#include <vector>

namespace luxdossier::photometry {

/// 2 int |rho - cos| sin|theta| dtheta of one piece between two angles on one side of 0.
[[nodiscard]] double integrated_deviation(const HermitePiece& piece, double from_rad, double to_rad);
/// Its derivatives with respect to x0, x1, y0, y1, d0, d1 of the piece (the limits held).
[[nodiscard]] std::array<double, 6> integrated_deviation_gradient(const HermitePiece& piece, double from_rad,
                                                                  double to_rad);

/// Angles strictly inside (from, to) where piece - cos changes sign, ascending. Both limits lie on one side
/// of 0 and within 90 degrees.
[[nodiscard]] std::vector<double> deviation_sign_changes(const HermitePiece& piece, double from_rad,
                                                         double to_rad);

}  // namespace luxdossier::photometry
