#pragma once

#include "photometry/hermite.hpp"

#include <array>
#include <vector>

namespace luxdossier::photometry {

/// 2 int |rho - cos| sin|theta| dtheta of one piece between two angles on one side of 0.
[[nodiscard]] double integrated_deviation(const HermitePiece& piece, double from_rad, double to_rad);

struct SineCosine {
    double sine = 0, cosine = 1;
};

/// The same for stretches that follow one another: sine and cosine at the ends of one are those of the next,
/// and those inside come from that of half its width.
class DeviationWalk {
public:
    explicit DeviationWalk(double from_rad);
    /// From where the last stretch ended; 0 where `to_rad` does not lie beyond that.
    [[nodiscard]] double up_to(const HermitePiece& piece, double to_rad);

private:
    double at_;
    SineCosine here_;
};

/// The derivatives of integrated_deviation with respect to x0, x1, y0, y1, d0, d1 of the piece (the limits
/// held).
[[nodiscard]] std::array<double, 6> integrated_deviation_gradient(const HermitePiece& piece, double from_rad,
                                                                  double to_rad);

/// Angles strictly inside (from, to) where piece - cos changes sign, ascending. Both limits lie on one side
/// of 0 and within 90 degrees.
[[nodiscard]] std::vector<double> deviation_sign_changes(const HermitePiece& piece, double from_rad,
                                                         double to_rad);

}  // namespace luxdossier::photometry
