#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace luxdossier::photometry {

/// One harmonic of light ripple, relative to the mean: cosine and sine amplitude at phase 0 of the waveform.
struct Harmonic {
    int order = 1;
    double cosine = 0;
    double sine = 0;
    [[nodiscard]] double amplitude() const;  ///< m_k
};

/// What a waveform of light tells.
struct Ripple {
    double frequency_hz = 0;  ///< of the fundamental
    double u_frequency_hz = 0;
    double degrees_of_freedom = 0;
    double mean = 0;                    ///< in the unit of the signal
    double relative_noise = 0;          ///< residual standard deviation over the mean
    std::size_t n = 0;                  ///< readings
    double periods = 0;                 ///< length of the record in periods
    std::vector<Harmonic> harmonics;    ///< those above three times what noise makes, in ascending order
    double u_amplitude = 0;             ///< standard uncertainty of each cosine and sine amplitude
    std::vector<double> mean_of_bins;   ///< waveform over one period, each bin the mean of its readings
    std::vector<double> phase_of_bins;  ///< mean phase of those readings, in cycles, ascending
    double bin_noise = 0;               ///< standard deviation of one reading within its bin
    double readings_per_bin = 0;
    bool constant = false;  ///< no ripple above the noise: no frequency, no harmonics
};

/// Analyses evenly spaced readings of a waveform. Empty with a reason where it cannot tell: fewer than 16
/// readings, times that are not evenly spaced (to 1 %), a mean that is not above 0, fewer than 3 periods.
///
/// The fundamental is the strongest line of the spectrum (or a half or third of it where light stands there
/// too), refined where the windowed transform is greatest; harmonics by least squares.
/// Units: time in s, signal in any unit with a true zero.
/// Source: uncertainty of the frequency, Rife and Boorstyn, IEEE Trans. Inf. Theory 20 (1974) 591.
struct RippleAnalysis {
    std::optional<Ripple> ripple;
    std::string reason;
};
[[nodiscard]] RippleAnalysis analyse_ripple(std::span<const double> time_s, std::span<const double> signal);

/// (max - min)/(max + min) of one period, as a fraction. Source: ANSI/IES LS-1.
[[nodiscard]] double percent_flicker(std::span<const double> period);

/// Flicker index, the area above the mean over the total area, from values at rising phases within one cycle:
/// once with a step around each value, once with straight lines between them. The two tell what the light may
/// have done between the readings. Source: ANSI/IES LS-1.
struct FlickerAreas {
    double of_steps = 0, of_lines = 0;
};
[[nodiscard]] FlickerAreas flicker_areas(std::span<const double> phase_cycles,
                                         std::span<const double> values);

/// sin(pi x)/(pi x), 1 at 0.
[[nodiscard]] double sinc(double x);

/// Integration time, nominal with its relative tolerance, and relative tolerance of the frequency.
struct Integration {
    double time_s = 0;
    double time_tolerance = 0;
    double frequency_tolerance = 0;
};

/// Greatest relative error of an average over the integration time, over all start phases and within the
/// tolerances, and where it is reached.
struct WorstCase {
    double error = 0;         ///< positive, relative to the mean
    double cycles = 0;        ///< f T of the fundamental there
    double phase_rad = 0;     ///< of the fundamental in the middle of the window
    double bound = 0;         ///< sum of m_k |sinc(k f T)| at its own worst point
    double random_phase = 0;  ///< standard deviation over random phases at nominal f and T
};
[[nodiscard]] WorstCase worst_case(std::span<const Harmonic> harmonics, double frequency_hz,
                                   const Integration& integration);

/// Any non-negative periodic light of that frequency: |error| <= max(x, 1 - x)/(f T), x the fraction of a
/// cycle that f T leaves over; 0 where it leaves none. The greatest within the tolerances.
[[nodiscard]] double periodic_light_bound(double frequency_hz, const Integration& integration);

/// Shortest integration time from which on no longer one lets the bound sum m_k |sinc(k f T)| exceed the
/// stated relative error; tolerances apply. 0 where the ripple never exceeds it. Domain: error > 0.
[[nodiscard]] double shortest_integration_time(std::span<const Harmonic> harmonics, double frequency_hz,
                                               const Integration& tolerances, double error);

}  // namespace luxdossier::photometry
