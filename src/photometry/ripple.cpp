#include "photometry/ripple.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

namespace luxdossier::photometry {
namespace {

constexpr double two_pi = 2 * std::numbers::pi;

/// The harmonics as a window of so many cycles lets them through.
std::vector<Harmonic> let_through(std::span<const Harmonic> harmonics, double cycles)
{
    std::vector<Harmonic> left(harmonics.begin(), harmonics.end());
    for (auto& h : left) {
        const double share = sinc(h.order * cycles);
        h.cosine *= share;
        h.sine *= share;
    }
    return left;
}

/// Sum of the harmonics at a phase; the orders rise. One sine and cosine, turned on from order to order.
double sum_at(std::span<const Harmonic> harmonics, double phase_rad)
{
    const double c = std::cos(phase_rad), s = std::sin(phase_rad);
    double cosine = 1, sine = 0, sum = 0;
    int order = 0;
    for (const auto& h : harmonics) {
        for (; order < h.order; ++order) {
            const double turned = cosine * c - sine * s;
            sine = sine * c + cosine * s;
            cosine = turned;
        }
        sum += h.cosine * cosine + h.sine * sine;
    }
    return sum;
}

/// Greatest |response| over the phase of the middle of the window, and the phase.
std::pair<double, double> over_phase(std::span<const Harmonic> harmonics, double cycles)
{
    const auto left = let_through(harmonics, cycles);
    const auto magnitude = [&](double phase) { return std::abs(sum_at(left, phase)); };
    const int steps = 16 * (harmonics.empty() ? 1 : harmonics.back().order);
    double best = 0, at = 0;
    for (int i = 0; i < steps; ++i) {
        const double phase = two_pi * i / steps;
        if (const double here = magnitude(phase); here > best) {
            best = here;
            at = phase;
        }
    }
    // Golden-section search around the best of the grid; the peak is smooth there.
    constexpr double golden = 0.6180339887498949;
    double low = at - two_pi / steps, high = at + two_pi / steps;
    for (int i = 0; i < 60 && high - low > 1e-12; ++i) {
        const double a = high - golden * (high - low), b = low + golden * (high - low);
        if (magnitude(a) >= magnitude(b))
            high = b;
        else
            low = a;
    }
    const double fine = (low + high) / 2;
    return magnitude(fine) >= best ? std::pair{magnitude(fine), fine} : std::pair{best, at};
}

double bound_at(std::span<const Harmonic> harmonics, double cycles)
{
    double sum = 0;
    for (const auto& h : harmonics)
        sum += h.amplitude() * std::abs(sinc(h.order * cycles));
    return sum;
}

/// Range of f T within the tolerances.
std::pair<double, double> cycle_range(double frequency_hz, const Integration& integration)
{
    const double nominal = frequency_hz * integration.time_s;
    return {nominal * (1 - integration.frequency_tolerance) * (1 - integration.time_tolerance),
            nominal * (1 + integration.frequency_tolerance) * (1 + integration.time_tolerance)};
}

double periodic_bound_at(double cycles)
{
    const double x = cycles - std::floor(cycles);
    return x == 0 ? 0 : std::max(x, 1 - x) / cycles;
}

}  // namespace

double Harmonic::amplitude() const
{
    return std::hypot(cosine, sine);
}

double sinc(double x)
{
    if (x == 0)
        return 1;
    // Exact zeros at whole numbers, where sin(pi x) leaves rounding.
    const double rest = x - std::round(x);
    if (rest == 0)
        return 0;
    const double sign = std::fmod(std::abs(std::round(x)), 2) == 0 ? 1 : -1;
    return sign * std::sin(std::numbers::pi * rest) / (std::numbers::pi * x);
}

double percent_flicker(std::span<const double> period)
{
    const auto [least, greatest] = std::ranges::minmax(period);
    return (greatest - least) / (greatest + least);
}

FlickerAreas flicker_areas(std::span<const double> phase_cycles, std::span<const double> values)
{
    const auto size = values.size();
    std::vector<double> behind(size), width(size);  // to the next value; half of both gaps beside a value
    for (std::size_t i = 0; i < size; ++i)
        behind[i] = i + 1 < size ? phase_cycles[i + 1] - phase_cycles[i]
                                 : phase_cycles.front() + 1 - phase_cycles.back();
    double mean = 0;
    for (std::size_t i = 0; i < size; ++i) {
        width[i] = (behind[i] + behind[(i + size - 1) % size]) / 2;
        mean += width[i] * values[i];
    }
    FlickerAreas above;
    for (std::size_t i = 0; i < size; ++i) {
        const double a = values[i] - mean, b = values[(i + 1) % size] - mean, top = std::max(a, b);
        above.of_steps += width[i] * std::max(0.0, a);
        if (a >= 0 && b >= 0)
            above.of_lines += behind[i] * (a + b) / 2;
        else if (top >
                 0)  // the part before or behind the crossing, and what chords cut off (Euler-Maclaurin)
            above.of_lines += behind[i] * (top * top / (2 * std::abs(a - b)) + std::abs(a - b) / 12);
    }
    return {above.of_steps / mean, above.of_lines / mean};
}

WorstCase worst_case(std::span<const Harmonic> harmonics, double frequency_hz, const Integration& integration)
{
    WorstCase found;
    const auto [low, high] = cycle_range(frequency_hz, integration);
    const double nominal = frequency_hz * integration.time_s;
    found.cycles = nominal;
    const int highest = harmonics.empty() ? 1 : harmonics.back().order;
    // Between two grid points no harmonic turns by more than a sixteenth of a cycle of its sinc.
    const int steps = high > low ? std::max(16, static_cast<int>(std::ceil(16 * highest * (high - low)))) : 0;
    for (int i = 0; i <= steps; ++i) {
        const double cycles = steps == 0 ? nominal : low + (high - low) * i / steps;
        const auto [error, phase] = over_phase(harmonics, cycles);
        if (error > found.error) {
            found.error = error;
            found.cycles = cycles;
            found.phase_rad = phase;
        }
        found.bound = std::max(found.bound, bound_at(harmonics, cycles));
    }
    double variance = 0;
    for (const auto& h : harmonics) {
        const double part = h.amplitude() * sinc(h.order * nominal);
        variance += part * part / 2;
    }
    found.random_phase = std::sqrt(variance);
    return found;
}

double periodic_light_bound(double frequency_hz, const Integration& integration)
{
    const auto [low, high] = cycle_range(frequency_hz, integration);
    if (low == high)
        return periodic_bound_at(low);
    // Within a cycle the bound falls and rises; towards either side of a whole number it tends to 1/cycles.
    const double whole = std::ceil(low);
    double greatest = std::max(periodic_bound_at(low), periodic_bound_at(high));
    if (whole <= high)
        greatest = std::max(greatest, 1 / whole);
    return greatest;
}

double shortest_integration_time(std::span<const Harmonic> harmonics, double frequency_hz,
                                 const Integration& tolerances, double error)
{
    const int highest = harmonics.empty() ? 1 : harmonics.back().order;
    const auto exceeds = [&](double time_s) {
        auto at = tolerances;
        at.time_s = time_s;
        const auto [low, high] = cycle_range(frequency_hz, at);
        const int steps = std::max(1, static_cast<int>(std::ceil(16 * highest * (high - low))));
        for (int i = 0; i <= steps; ++i)
            if (bound_at(harmonics, low + (high - low) * i / steps) > error)
                return true;
        return false;
    };
    // Beyond this time the envelope sum m_k/(pi k f T) stays below the error.
    double envelope = 0;
    for (const auto& h : harmonics)
        envelope += h.amplitude() / (std::numbers::pi * h.order);
    const double spread = (1 - tolerances.frequency_tolerance) * (1 - tolerances.time_tolerance);
    double above = envelope / (frequency_hz * error * spread);
    const double step = 1 / (32 * frequency_hz * highest);
    double below = above;
    while (below > 0 && !exceeds(below)) {
        above = below;
        below -= step;
    }
    if (below <= 0)
        return 0;
    for (int i = 0; i < 60 && above - below > 1e-12 * above; ++i) {
        const double middle = (below + above) / 2;
        (exceeds(middle) ? below : above) = middle;
    }
    return above;
}

}  // namespace luxdossier::photometry
