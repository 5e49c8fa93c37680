// Included by block_kernels_{sse2,avx2,avx512}.cpp, which say how many trials an instruction handles and are
// compiled for their machine. Nothing here may have external linkage but LUXDOSSIER_KERNELS, and no inline
// function of another header may be called: the linker could take its version for the wide machine into a
// program that runs on a narrow one.

#include "uncertainty/block_kernels.hpp"

#include <immintrin.h>
#include <sleef.h>

namespace luxdossier::uncertainty {
namespace {

constexpr std::size_t width = LUXDOSSIER_LANES;      ///< trials an instruction
constexpr std::size_t parts = stream_lanes / width;  ///< vectors that hold the eight lanes
constexpr std::size_t half_trials = chunk_trials / 2;
constexpr double tau = 6.283185307179586;

typedef double Reals __attribute__((vector_size(8 * width), may_alias));
typedef std::uint64_t Words __attribute__((vector_size(8 * width), may_alias));
typedef std::int64_t Masks __attribute__((vector_size(8 * width), may_alias));
typedef std::int32_t Indices __attribute__((vector_size(4 * width), may_alias));

inline Reals splat(double value)
{
    return value - Reals{};
}
inline Reals load(const double* from)
{
    return *reinterpret_cast<const Reals*>(from);
}
inline void store(double* to, Reals values)
{
    *reinterpret_cast<Reals*>(to) = values;
}
template <class Function>
inline Reals call(Function function, Reals x)
{
    return (Reals)function((LUXDOSSIER_NATIVE)x);
}
inline Reals square_root(Reals x)
{
    return (Reals)LUXDOSSIER_SQUARE_ROOT((LUXDOSSIER_NATIVE)x);
}
inline Reals logarithm(Reals x)
{
    return call(LUXDOSSIER_SLEEF(log, u35), x);
}
inline Reals magnitude(Reals x)
{
    return (Reals)((Words)x & (Words{} + 0x7FFFFFFFFFFFFFFFULL));
}

// ---- Draws -----------------------------------------------------------------------------------------------

/// The eight lanes of a stream in registers.
struct Lanes {
    Words s[4][parts];
};

inline void read(const Stream& stream, Lanes& lanes)
{
    for (std::size_t word = 0; word < 4; ++word)
        for (std::size_t part = 0; part < parts; ++part)
            lanes.s[word][part] = *reinterpret_cast<const Words*>(&stream.state[word][part * width]);
}

inline void write(const Lanes& lanes, Stream& stream)
{
    for (std::size_t word = 0; word < 4; ++word)
        for (std::size_t part = 0; part < parts; ++part)
            *reinterpret_cast<Words*>(&stream.state[word][part * width]) = lanes.s[word][part];
}

/// The next number in (0, 1) of the lanes of one part.
inline Reals next_unit(Lanes& lanes, std::size_t part)
{
    Words &s0 = lanes.s[0][part], &s1 = lanes.s[1][part], &s2 = lanes.s[2][part], &s3 = lanes.s[3][part];
    const Words sum = s0 + s3;
    const Words result = ((sum << 23) | (sum >> 41)) + s0;
    const Words shifted = s1 << 17;
    s2 ^= s0;
    s3 ^= s1;
    s1 ^= s2;
    s0 ^= s3;
    s2 ^= shifted;
    s3 = (s3 << 45) | (s3 >> 19);
    return (Reals)((result >> 12) | 0x3FF0000000000000ULL) - (1.0 - 0x1p-53);
}

/// Calls body(index, part) for each vector of a chunk, in an order of the lanes that does not depend on the
/// width.
template <std::size_t count, class Body>
inline void for_each_part(Stream& stream, Body body)
{
    Lanes lanes;
    read(stream, lanes);
    for (std::size_t row = 0; row < count; row += stream_lanes)
        for (std::size_t part = 0; part < parts; ++part)
            body(row + part * width, part, lanes);
    write(lanes, stream);
}

void draw_rectangular(Stream& stream, double low, double span, double* out)
{
    for_each_part<chunk_trials>(stream, [=](std::size_t at, std::size_t part, Lanes& lanes) {
        store(out + at, low + span * next_unit(lanes, part));
    });
}

void draw_trapezoidal(Stream& stream, double low, double span, double top, double* out)
{
    for_each_part<chunk_trials>(stream, [=](std::size_t at, std::size_t part, Lanes& lanes) {
        const Reals first = next_unit(lanes, part);
        const Reals second = next_unit(lanes, part);
        store(out + at, low + span * (top * first + (1.0 - top) * second));
    });
}

void draw_arcsine(Stream& stream, double centre, double half_width, double* out)
{
    for_each_part<chunk_trials>(stream, [=](std::size_t at, std::size_t part, Lanes& lanes) {
        const Reals angle = tau * next_unit(lanes, part);
        store(out + at, centre + half_width * call(LUXDOSSIER_SLEEF(cos, u35), angle));
    });
}

// A draw of two coordinates goes over its trials in stages, so that the functions of one trial do not wait
// for those of another.

/// Radius of a bivariate t with unit scale, in place of `count` numbers in (0, 1); the degrees of freedom of
/// a normal are infinite.
template <std::size_t count>
inline void to_radius(double* numbers, double degrees_of_freedom)
{
    const auto each = [numbers](auto function) {
        for (std::size_t at = 0; at < count; at += width)
            store(numbers + at, function(load(numbers + at)));
    };
    if (degrees_of_freedom > 1e9)
        return each([](Reals unit) { return square_root(-2.0 * logarithm(unit)); });
    // Up to this many degrees of freedom what e^x - 1 loses is below 1e-13 of the square, where it costs half
    // of what expm1 does.
    constexpr double few = 1000.0;
    each([=](Reals unit) { return (-2.0 / degrees_of_freedom) * logarithm(unit); });
    if (degrees_of_freedom < few)
        each([](Reals exponent) { return call(LUXDOSSIER_SLEEF(exp, u10), exponent) - 1.0; });
    else
        each([](Reals exponent) { return call(LUXDOSSIER_SLEEF(expm1, u10), exponent); });
    each([=](Reals excess) { return square_root(degrees_of_freedom * excess); });
}

/// Two numbers in (0, 1) a trial: one for the radius, one for the direction.
template <std::size_t count>
inline void draw_units(Stream& stream, double* lengths, double* turns)
{
    for_each_part<count>(stream, [=](std::size_t at, std::size_t part, Lanes& lanes) {
        store(lengths + at, next_unit(lanes, part));
        store(turns + at, next_unit(lanes, part));
    });
}

/// Coordinates of a direction at random, times the radius, written to two arrays of `half_trials`, or of a
/// chunk.
template <std::size_t count>
inline void draw_pairs(Stream& stream, double degrees_of_freedom, double centre, double scale, double* first,
                       double* second)
{
    draw_units<count>(stream, first, second);
    to_radius<count>(first, degrees_of_freedom);
    for (std::size_t at = 0; at < count; at += width) {
        const Reals length = scale * load(first + at);
        const Reals turn = 2.0 * load(second + at);
        const auto circle = LUXDOSSIER_SLEEF(sincospi, u35)((LUXDOSSIER_NATIVE)turn);
        store(first + at, centre + length * (Reals)circle.y);
        store(second + at, centre + length * (Reals)circle.x);
    }
}

void draw_normal(Stream& stream, double mean, double standard_uncertainty, double* out)
{
    draw_pairs<half_trials>(stream, infinite, mean, standard_uncertainty, out, out + half_trials);
}

void draw_student_t(Stream& stream, double degrees_of_freedom, double mean, double scale, double* out)
{
    alignas(64) double turns[chunk_trials];
    draw_units<chunk_trials>(stream, out, turns);
    to_radius<chunk_trials>(out, degrees_of_freedom);
    for (std::size_t at = 0; at < chunk_trials; at += width) {
        const Reals length = scale * load(out + at);
        const Reals angle = tau * load(turns + at);
        store(out + at, mean + length * call(LUXDOSSIER_SLEEF(cos, u35), angle));
    }
}

void draw_standard_pair(Stream& stream, double degrees_of_freedom, double* first, double* second)
{
    draw_pairs<chunk_trials>(stream, degrees_of_freedom, 0.0, 1.0, first, second);
}

void continue_pair(double nu, double k, double* squares, double* first, double* second)
{
    for (std::size_t at = 0; at < chunk_trials; at += width) {
        const Reals before = load(squares + at);
        const Reals factor = square_root((nu + before) / (nu + k));
        const Reals a = load(first + at) * factor, b = load(second + at) * factor;
        store(first + at, a);
        store(second + at, b);
        store(squares + at, before + a * a + b * b);
    }
}

// ---- Operations ------------------------------------------------------------------------------------------

void fill(double constant, double* out)
{
    for (std::size_t at = 0; at < chunk_trials; at += width)
        store(out + at, splat(constant));
}

void add_scaled(double factor, const double* z, double* out)
{
    for (std::size_t at = 0; at < chunk_trials; at += width)
        store(out + at, load(out + at) + factor * load(z + at));
}

template <class Function>
inline void map(const double* x, double* out, Function function)
{
    for (std::size_t at = 0; at < chunk_trials; at += width)
        store(out + at, function(load(x + at)));
}

void unary(Operation operation, const double* x, double* out)
{
    switch (operation) {
    case Operation::negate:
        return map(x, out, [](Reals v) { return -v; });
    case Operation::square_root:
        return map(x, out, [](Reals v) { return square_root(v); });
    case Operation::exponential:
        return map(x, out, [](Reals v) { return call(LUXDOSSIER_SLEEF(exp, u10), v); });
    case Operation::natural_logarithm:
        return map(x, out, [](Reals v) { return call(LUXDOSSIER_SLEEF(log, u10), v); });
    case Operation::sine:
        return map(x, out, [](Reals v) { return call(LUXDOSSIER_SLEEF(sin, u10), v); });
    case Operation::cosine:
        return map(x, out, [](Reals v) { return call(LUXDOSSIER_SLEEF(cos, u10), v); });
    case Operation::tangent:
        return map(x, out, [](Reals v) { return call(LUXDOSSIER_SLEEF(tan, u10), v); });
    case Operation::arcsine:
        return map(x, out, [](Reals v) { return call(LUXDOSSIER_SLEEF(asin, u10), v); });
    case Operation::arccosine:
        return map(x, out, [](Reals v) { return call(LUXDOSSIER_SLEEF(acos, u10), v); });
    case Operation::arctangent:
        return map(x, out, [](Reals v) { return call(LUXDOSSIER_SLEEF(atan, u10), v); });
    case Operation::absolute_value:
        return map(x, out, [](Reals v) { return magnitude(v); });
    default:
        return map(x, out, [](Reals v) { return v; });
    }
}

template <class Function>
inline void combine(BlockOperand left, BlockOperand right, double* out, Function function)
{
    if (left.trials == nullptr) {
        const Reals l = splat(left.constant);
        for (std::size_t at = 0; at < chunk_trials; at += width)
            store(out + at, function(l, load(right.trials + at)));
    } else if (right.trials == nullptr) {
        const Reals r = splat(right.constant);
        for (std::size_t at = 0; at < chunk_trials; at += width)
            store(out + at, function(load(left.trials + at), r));
    } else {
        for (std::size_t at = 0; at < chunk_trials; at += width)
            store(out + at, function(load(left.trials + at), load(right.trials + at)));
    }
}

void binary(Operation operation, BlockOperand l, BlockOperand r, double* out)
{
    switch (operation) {
    case Operation::add:
        return combine(l, r, out, [](Reals a, Reals b) { return a + b; });
    case Operation::subtract:
        return combine(l, r, out, [](Reals a, Reals b) { return a - b; });
    case Operation::multiply:
        return combine(l, r, out, [](Reals a, Reals b) { return a * b; });
    case Operation::divide:
        return combine(l, r, out, [](Reals a, Reals b) { return a / b; });
    case Operation::power:
        if (r.trials == nullptr && r.constant == 2.0)
            return map(l.trials, out, [](Reals v) { return v * v; });
        return combine(l, r, out, [](Reals a, Reals b) {
            return (Reals)LUXDOSSIER_SLEEF(pow, u10)((LUXDOSSIER_NATIVE)a, (LUXDOSSIER_NATIVE)b);
        });
    // As operation_value has it: NaN wins, equal operands give the left one.
    case Operation::minimum:
        return combine(l, r, out, [](Reals a, Reals b) { return (b < a) | (b != b) ? b : a; });
    case Operation::maximum:
        return combine(l, r, out, [](Reals a, Reals b) { return (b > a) | (b != b) ? b : a; });
    default:
        return;
    }
}

// ---- Tallies ---------------------------------------------------------------------------------------------

void tally(const double* values, const TallyGrid& grid, double shift, std::uint16_t* counts, TallySums& sums)
{
    alignas(64) std::int32_t cells[chunk_trials];
    const Reals below = splat(0.0), above = splat(static_cast<double>(TallyGrid::above));
    const Reals undefined = splat(static_cast<double>(TallyGrid::undefined));
    for (std::size_t row = 0; row < chunk_trials; row += stream_lanes)
        for (std::size_t part = 0; part < parts; ++part) {
            const std::size_t at = row + part * width;
            const Reals y = load(values + at);
            Reals cell = (y - grid.low) * grid.scale + 1.0;
            cell = cell > below ? cell : below;
            cell = cell < above ? cell : above;
            cell = y == y ? cell : undefined;
            *reinterpret_cast<Indices*>(cells + at) = __builtin_convertvector(cell, Indices);
            const Reals raw = y - shift;
            const Masks is_finite = raw - raw == Reals{};
            const Reals deviation = is_finite ? raw : Reals{};
            double* const lane = sums.deviation + part * width;
            store(lane, load(lane) + deviation);
            double* const square = sums.square + part * width;
            store(square, load(square) + deviation * deviation);
            double* const not_finite = sums.not_finite + part * width;
            store(not_finite, load(not_finite) + (is_finite ? Reals{} : splat(1.0)));
        }
    for (const std::int32_t cell : cells)
        ++counts[cell];
}

std::size_t within(const double* values, double lower, double upper, std::uint64_t* mask)
{
    Masks inside{};
    for (std::size_t at = 0; at < chunk_trials; at += width) {
        const Reals y = load(values + at);
        const Masks is_inside = (y >= lower) & (y <= upper);
        inside -= is_inside;
        auto* const words = reinterpret_cast<Words*>(mask + at);
        *words &= (Words)is_inside;
    }
    std::size_t count = 0;
    for (std::size_t lane = 0; lane < width; ++lane)
        count += static_cast<std::size_t>(inside[lane]);
    return count;
}

constexpr BlockKernels kernels{LUXDOSSIER_KERNEL_NAME,
                               draw_rectangular,
                               draw_trapezoidal,
                               draw_arcsine,
                               draw_normal,
                               draw_student_t,
                               draw_standard_pair,
                               continue_pair,
                               fill,
                               add_scaled,
                               unary,
                               binary,
                               tally,
                               within};

}  // namespace

const BlockKernels& LUXDOSSIER_KERNELS()
{
    return kernels;
}

}  // namespace luxdossier::uncertainty
