#include "photometry/ripple.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <numbers>

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <unsupported/Eigen/FFT>

namespace luxdossier::photometry {
namespace {

constexpr double two_pi = 2 * std::numbers::pi;
constexpr std::size_t least_readings = 16;
constexpr double least_periods = 3;
constexpr double above_noise = 6;   ///< a line of the spectrum over the median of its magnitudes
constexpr double kept_above_u = 3;  ///< amplitude of a harmonic over its standard uncertainty
constexpr int highest_order = 20;
constexpr double share_of_nyquist = 0.9;

/// Evenly spaced readings, mean taken off.
struct Record {
    double interval_s = 0;
    std::vector<double> signal;
    double mean = 0;
    [[nodiscard]] double length_s() const { return interval_s * static_cast<double>(signal.size()); }
};

std::string fault_of(std::span<const double> time_s, std::span<const double> signal)
{
    if (signal.size() < least_readings)
        return "fewer than 16 readings tell no waveform";
    const double interval = (time_s.back() - time_s.front()) / static_cast<double>(time_s.size() - 1);
    if (!(interval > 0))
        return "the times do not increase";
    for (std::size_t i = 0; i < time_s.size(); ++i)
        if (std::abs(time_s[i] - time_s.front() - interval * static_cast<double>(i)) > 0.1 * interval)
            return "the readings are not evenly spaced in time";
    double sum = 0;
    for (const double value : signal)
        sum += value;
    return sum > 0 ? "" : "the mean of the waveform is not above 0";
}

Record record_of(std::span<const double> time_s, std::span<const double> signal)
{
    Record record;
    record.interval_s = (time_s.back() - time_s.front()) / static_cast<double>(time_s.size() - 1);
    double sum = 0;
    for (const double value : signal)
        sum += value;
    record.mean = sum / static_cast<double>(signal.size());
    for (const double value : signal)
        record.signal.push_back(value - record.mean);
    return record;
}

double hann(std::size_t i, std::size_t n)
{
    return 0.5 - 0.5 * std::cos(two_pi * (static_cast<double>(i) + 0.5) / static_cast<double>(n));
}

/// Magnitudes of the windowed transform, padded with zeros to twice the next power of two.
std::vector<double> spectrum_of(const Record& record)
{
    const auto n = record.signal.size();
    std::size_t padded = 4;
    while (padded < n)
        padded *= 2;
    padded *= 2;
    std::vector<double> windowed(padded, 0.0);
    for (std::size_t i = 0; i < n; ++i)
        windowed[i] = hann(i, n) * record.signal[i];
    std::vector<std::complex<double>> lines;
    Eigen::FFT<double> transform;
    transform.fwd(lines, windowed);
    std::vector<double> magnitudes;
    for (std::size_t i = 0; i <= padded / 2; ++i)
        magnitudes.push_back(std::abs(lines[i]));
    return magnitudes;
}

/// The fundamental to the nearest line of the spectrum; empty where nothing stands above the noise.
std::optional<double> coarse_frequency(const Record& record)
{
    const auto magnitudes = spectrum_of(record);
    const auto lines = 2 * (magnitudes.size() - 1);
    const double line_hz = 1 / (record.interval_s * static_cast<double>(lines));
    const auto first = static_cast<std::size_t>(std::ceil(least_periods / record.length_s() / line_hz));
    if (first + 2 >= magnitudes.size())
        return std::nullopt;
    const auto peak =
        std::max_element(magnitudes.begin() + static_cast<std::ptrdiff_t>(first), magnitudes.end());
    std::vector<double> sorted(magnitudes.begin() + static_cast<std::ptrdiff_t>(first), magnitudes.end());
    std::ranges::nth_element(sorted, sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2));
    const double median = sorted[sorted.size() / 2];
    double rounding = 0;
    for (const double value : record.signal)
        rounding += std::abs(value);
    rounding = 1e-12 * (rounding + record.mean * static_cast<double>(record.signal.size()));
    if (*peak <= std::max(above_noise * median, rounding))
        return std::nullopt;
    const auto index = static_cast<std::size_t>(peak - magnitudes.begin());
    const auto near = static_cast<std::size_t>(std::ceil(1 / record.length_s() / line_hz));
    for (const std::size_t part : {3U, 2U}) {
        const auto at = index / part;
        if (at < first + near)
            continue;
        const auto low = magnitudes.begin() + static_cast<std::ptrdiff_t>(at - near);
        const auto strongest = std::max_element(low, low + static_cast<std::ptrdiff_t>(2 * near + 1));
        if (*strongest > std::max(0.1 * *peak, above_noise * median))
            return line_hz * static_cast<double>(strongest - magnitudes.begin());
    }
    return line_hz * static_cast<double>(index);
}

double windowed_magnitude(const Record& record, double frequency_hz)
{
    const std::complex<double> turn = std::polar(1.0, -two_pi * frequency_hz * record.interval_s);
    std::complex<double> phase = 1, sum = 0;
    const auto n = record.signal.size();
    for (std::size_t i = 0; i < n; ++i) {
        sum += hann(i, n) * record.signal[i] * phase;
        phase *= turn;
    }
    return std::abs(sum);
}

/// Where the windowed transform is greatest, around a start.
double peak_frequency(const Record& record, double start_hz)
{
    constexpr double golden = 0.6180339887498949;
    double low = start_hz - 1 / record.length_s(), high = start_hz + 1 / record.length_s();
    for (int i = 0; i < 40; ++i) {
        const double a = high - golden * (high - low), b = low + golden * (high - low);
        if (windowed_magnitude(record, a) >= windowed_magnitude(record, b))
            high = b;
        else
            low = a;
    }
    return (low + high) / 2;
}

/// Least squares of constant, harmonics and a change of frequency.
struct Fit {
    double constant = 0;
    std::vector<double> cosine, sine;
    double change_hz = 0, u_change_hz = 0;
    double residual = 0;
    double u_amplitude = 0;
    double degrees_of_freedom = 0;
};

Fit fit_harmonics(const Record& record, double frequency_hz, int orders, const Fit* before)
{
    const auto columns = static_cast<Eigen::Index>(2 * orders + (before != nullptr ? 2 : 1));
    const auto n = record.signal.size();
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(columns, columns);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(columns), row(columns);
    double squares = 0;
    for (std::size_t i = 0; i < n; ++i) {
        // From the middle of the record, where a change of frequency turns no phase.
        const double t = record.interval_s * (static_cast<double>(i) - static_cast<double>(n - 1) / 2);
        row[0] = 1;
        double derivative = 0;
        for (int k = 1; k <= orders; ++k) {
            const double phase = two_pi * frequency_hz * k * t;
            const double c = std::cos(phase), s = std::sin(phase);
            row[2 * k - 1] = c;
            row[2 * k] = s;
            if (before != nullptr) {
                const auto at = static_cast<std::size_t>(k - 1);
                derivative += two_pi * k * t * (before->sine[at] * c - before->cosine[at] * s);
            }
        }
        if (before != nullptr)
            row[columns - 1] = derivative;
        normal.selfadjointView<Eigen::Lower>().rankUpdate(row);
        right += record.signal[i] * row;
        squares += record.signal[i] * record.signal[i];
    }
    const Eigen::LDLT<Eigen::MatrixXd> factored(normal.selfadjointView<Eigen::Lower>());
    const Eigen::VectorXd solved = factored.solve(right);
    Fit fit;
    fit.constant = record.mean + solved[0];
    for (int k = 1; k <= orders; ++k) {
        fit.cosine.push_back(solved[2 * k - 1]);
        fit.sine.push_back(solved[2 * k]);
    }
    fit.degrees_of_freedom = static_cast<double>(n) - static_cast<double>(columns);
    fit.residual = std::sqrt(std::max(0.0, squares - solved.dot(right)) / fit.degrees_of_freedom);
    fit.u_amplitude = fit.residual * std::sqrt(2 / static_cast<double>(n));
    if (before != nullptr) {
        fit.change_hz = solved[columns - 1];
        Eigen::VectorXd unit = Eigen::VectorXd::Zero(columns);
        unit[columns - 1] = 1;
        fit.u_change_hz = fit.residual * std::sqrt(std::max(0.0, factored.solve(unit)[columns - 1]));
    }
    return fit;
}

/// Readings that fall on one part of the period.
struct Bin {
    double sum = 0, squares = 0, phase = 0, count = 0;
};

std::vector<Bin> bins_of(const Record& record, double frequency_hz, std::size_t count)
{
    std::vector<Bin> bins(std::max<std::size_t>(count, 1));
    for (std::size_t i = 0; i < record.signal.size(); ++i) {
        const double cycles = frequency_hz * record.interval_s * static_cast<double>(i) + 1e-9;
        const double place = (cycles - std::floor(cycles)) * static_cast<double>(bins.size());
        auto& bin = bins.at(std::min(bins.size() - 1, static_cast<std::size_t>(place)));
        bin.sum += record.signal[i];
        bin.squares += record.signal[i] * record.signal[i];
        bin.phase += cycles - std::floor(cycles);
        bin.count += 1;
    }
    return bins;
}

/// Mean waveform over one period, in bins that hold two readings or more.
void fold(const Record& record, Ripple& ripple)
{
    const double per_period = 1 / (ripple.frequency_hz * record.interval_s);
    auto count = static_cast<std::size_t>(std::clamp(std::floor(per_period * (1 + 1e-9)), 8.0, 256.0));
    auto bins = bins_of(record, ripple.frequency_hz, count);
    while (count > 2 && std::ranges::any_of(bins, [](const Bin& bin) { return bin.count < 2; })) {
        count /= 2;
        bins = bins_of(record, ripple.frequency_hz, count);
    }
    double within = 0;
    for (const auto& bin : bins) {
        ripple.mean_of_bins.push_back(record.mean + bin.sum / bin.count);
        ripple.phase_of_bins.push_back(bin.phase / bin.count);
        within += std::max(0.0, bin.squares - bin.sum * bin.sum / bin.count);
    }
    const auto n = static_cast<double>(record.signal.size());
    const auto used = static_cast<double>(bins.size());
    ripple.bin_noise = std::sqrt(within / std::max(1.0, n - used));
    ripple.readings_per_bin = n / used;
}

}  // namespace

RippleAnalysis analyse_ripple(std::span<const double> time_s, std::span<const double> signal)
{
    RippleAnalysis found;
    found.reason = fault_of(time_s, signal);
    if (!found.reason.empty())
        return found;
    const auto record = record_of(time_s, signal);
    Ripple ripple;
    ripple.mean = record.mean;
    ripple.n = record.signal.size();
    const auto coarse = coarse_frequency(record);
    ripple.constant = !coarse.has_value();
    if (!coarse) {
        found.ripple = ripple;
        return found;
    }
    double frequency_hz = peak_frequency(record, *coarse);
    const double nyquist_hz = 0.5 / record.interval_s;
    const int orders = std::clamp(static_cast<int>(share_of_nyquist * nyquist_hz / frequency_hz), 1,
                                  std::min(highest_order, static_cast<int>(ripple.n / 4)));
    auto fit = fit_harmonics(record, frequency_hz, orders, nullptr);
    for (int i = 0; i < 8; ++i) {
        fit = fit_harmonics(record, frequency_hz, orders, &fit);
        frequency_hz += fit.change_hz;
        ripple.u_frequency_hz = fit.u_change_hz;
    }
    ripple.degrees_of_freedom = fit.degrees_of_freedom;
    fit = fit_harmonics(record, frequency_hz, orders, nullptr);
    ripple.frequency_hz = frequency_hz;
    ripple.mean = fit.constant;
    ripple.relative_noise = fit.residual / fit.constant;
    ripple.u_amplitude = fit.u_amplitude / fit.constant;
    ripple.periods = record.length_s() * frequency_hz;
    for (int k = 1; k <= orders; ++k) {
        const auto at = static_cast<std::size_t>(k - 1);
        const Harmonic harmonic{k, fit.cosine[at] / fit.constant, fit.sine[at] / fit.constant};
        if (harmonic.amplitude() > std::max(kept_above_u * ripple.u_amplitude, 1e-12))
            ripple.harmonics.push_back(harmonic);
    }
    fold(record, ripple);
    found.ripple = ripple;
    return found;
}

}  // namespace luxdossier::photometry
