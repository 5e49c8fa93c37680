#include "photometry/spectrum.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::photometry {
namespace {

double read_at(const Tabulated& curve, double wavelength_nm)
{
    const double at = wavelength_nm * 1e-9;
    const auto& x = curve.wavelength_m;
    // Half a picometre of slack: 780 nm written in metres and back must not fall off the end.
    constexpr double slack_m = 5e-13;
    if (x.empty() || at < x.front() - slack_m || at > x.back() + slack_m)
        return 0;
    const auto right = std::ranges::upper_bound(x, at);
    const auto index =
        std::clamp<std::ptrdiff_t>(right - x.begin(), 1, static_cast<std::ptrdiff_t>(x.size()) - 1);
    const auto i = static_cast<std::size_t>(index);
    if (x.size() < 2)
        return curve.value[0];
    const double weight = std::clamp((at - x[i - 1]) / (x[i] - x[i - 1]), 0.0, 1.0);
    return curve.value[i - 1] + weight * (curve.value[i] - curve.value[i - 1]);
}

struct Span {
    double from_nm, to_nm;
};

Span span_of(const Tabulated& curve)
{
    if (curve.wavelength_m.empty())
        return {1, 0};
    return {std::round(curve.wavelength_m.front() * 1e9), std::round(curve.wavelength_m.back() * 1e9)};
}

template <typename Function>
double trapezoid(Span span, Function function)
{
    if (span.to_nm <= span.from_nm)
        return 0;
    double total = (function(span.from_nm) + function(span.to_nm)) / 2;
    for (double at = span.from_nm + 1; at < span.to_nm; ++at)
        total += function(at);
    return total;
}

constexpr Span visible{360, 830};

}  // namespace

double incandescent_distribution(double wavelength_nm, double colour_temperature_k)
{
    const double c = 1.435e7 / 2848 * (2856 / colour_temperature_k);
    return 100 * std::pow(560 / wavelength_nm, 5) * std::expm1(c / 560) / std::expm1(c / wavelength_nm);
}

std::optional<double> spectral_mismatch_factor(const Tabulated& source, const Tabulated& responsivity,
                                               double calibration_colour_temperature_k)
{
    const auto lamp = [=](double at) {
        return incandescent_distribution(at, calibration_colour_temperature_k);
    };
    const Span s = span_of(responsivity);
    const double source_v =
        trapezoid(visible, [&](double at) { return read_at(source, at) * luminous_efficiency(at); });
    const double source_s =
        trapezoid(s, [&](double at) { return read_at(source, at) * read_at(responsivity, at); });
    const double lamp_s = trapezoid(s, [&](double at) { return lamp(at) * read_at(responsivity, at); });
    const double lamp_v = trapezoid(visible, [&](double at) { return lamp(at) * luminous_efficiency(at); });
    if (!(source_v > 0) || !(source_s > 0) || !(lamp_s > 0))
        return std::nullopt;
    return source_v / source_s * (lamp_s / lamp_v);
}

std::optional<double> general_mismatch_index(const Tabulated& responsivity)
{
    const Span s = span_of(responsivity);
    const double lamp_s =
        trapezoid(s, [&](double at) { return incandescent_distribution(at) * read_at(responsivity, at); });
    const double lamp_v =
        trapezoid(visible, [](double at) { return incandescent_distribution(at) * luminous_efficiency(at); });
    const double overlap =
        trapezoid(s, [&](double at) { return read_at(responsivity, at) * luminous_efficiency(at); });
    if (!(lamp_s > 0) || !(overlap > 0))
        return std::nullopt;
    const double scale = lamp_v / lamp_s;
    // Piecewise, so that a responsivity that ends with a step has that step and no ramp.
    const auto v_alone = [](double at) { return luminous_efficiency(at); };
    double gap = trapezoid(
        s, [&](double at) { return std::abs(scale * read_at(responsivity, at) - luminous_efficiency(at)); });
    gap += trapezoid({visible.from_nm, std::min(s.from_nm, visible.to_nm)}, v_alone);
    gap += trapezoid({std::max(s.to_nm, visible.from_nm), visible.to_nm}, v_alone);
    return gap / trapezoid(visible, luminous_efficiency);
}

}  // namespace luxdossier::photometry
