#pragma once

#include "uncertainty/graph.hpp"
#include "uncertainty/random_stream.hpp"

#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

namespace luxdossier::uncertainty {

/// Trials that are drawn and evaluated together: one array of this length per quantity.
inline constexpr std::size_t chunk_trials = 256;

/// The values of one quantity in one chunk of trials.
struct alignas(64) Chunk {
    double trials[chunk_trials]{};
};

/// One operand of a block operation: an array of chunk_trials values, or one value for all trials.
struct BlockOperand {
    const double* trials = nullptr;
    double constant = 0;
};

/// A fine grid of cells over the values of a result, with cells for what lies below, above and nowhere (NaN).
struct TallyGrid {
    static constexpr std::size_t cells = 1024;
    static constexpr std::size_t below = 0, first = 1, above = cells + 1, undefined = cells + 2;
    static constexpr std::size_t counters = cells + 3;
    double low = 0;    ///< lower end of the first cell
    double scale = 0;  ///< 1/width of a cell
};

/// Sums over trials, lane by lane, so that their bits do not depend on the machine's vector width.
struct alignas(64) TallySums {
    double deviation[stream_lanes]{};  ///< sum of y - shift over the finite trials
    double square[stream_lanes]{};     ///< sum of (y - shift)^2
    double not_finite[stream_lanes]{};
};

/// What is done to a chunk of trials, compiled once for each vector width. All versions give the same bits:
/// they add and multiply in the same order without fused operations, and take logarithm, exponential and
/// circular functions from SLEEF's deterministic set ("cinz"). Arrays are aligned to 64 bytes.
struct BlockKernels {
    std::string_view name;  ///< "SSE2", "AVX2", "AVX-512"

    /// out = low + width r, r in (0, 1) (JCGM 101:2008, 6.4.2.4).
    void (*rectangular)(Stream& stream, double low, double width, double* out);
    /// out = low + width (top r1 + side r2) (6.4.4.4 trapezoidal, 6.4.5.4 triangular: top = side = 1/2).
    void (*trapezoidal)(Stream& stream, double low, double width, double top, double* out);
    /// out = centre + half_width cos(2 pi r) (6.4.6.4).
    void (*arcsine)(Stream& stream, double centre, double half_width, double* out);
    /// Two standard normal deviates from two numbers (6.4.7.4; Box and Muller 1958).
    void (*normal)(Stream& stream, double mean, double standard_uncertainty, double* out);
    /// Scaled and shifted t (6.4.9.4): out = mean + scale sqrt(nu (r1^(-2/nu) - 1)) cos(2 pi r2) (Bailey
    /// 1994).
    void (*student_t)(Stream& stream, double degrees_of_freedom, double mean, double scale, double* out);
    /// A pair of standard coordinates of one direction: bivariate normal (degrees of freedom infinite), or
    /// bivariate t, of which cosine and sine are the two coordinates.
    void (*standard_pair)(Stream& stream, double degrees_of_freedom, double* first, double* second);
    /// Makes a pair with nu + k degrees of freedom follow k coordinates of a multivariate t, whose squares
    /// sum to `squares`: both times sqrt((nu + squares)/(nu + k)); then adds their squares.
    void (*continue_pair)(double nu, double k, double* squares, double* first, double* second);
    /// out = constant, and out += factor z.
    void (*fill)(double constant, double* out);
    void (*add_scaled)(double factor, const double* z, double* out);

    void (*unary)(Operation operation, const double* operand, double* out);
    void (*binary)(Operation operation, BlockOperand left, BlockOperand right, double* out);

    /// Counts values in the cells of a grid, and adds up deviations from `shift`.
    void (*tally)(const double* values, const TallyGrid& grid, double shift, std::uint16_t* counts,
                  TallySums& sums);
    /// Clears the mask of trials whose value is outside [lower, upper]; returns how many are inside.
    std::size_t (*within)(const double* values, double lower, double upper, std::uint64_t* mask);
};

/// All versions that this machine can run, the widest first.
[[nodiscard]] std::span<const BlockKernels* const> available_kernels();
/// The widest.
[[nodiscard]] const BlockKernels& widest_kernels();

// One per vector width, whether or not the machine has it.
[[nodiscard]] const BlockKernels& sse2_kernels();
[[nodiscard]] const BlockKernels& avx2_kernels();
[[nodiscard]] const BlockKernels& avx512_kernels();

}  // namespace luxdossier::uncertainty
