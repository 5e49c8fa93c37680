#pragma once

#include <optional>
#include <span>

namespace luxdossier::photometry {

/// V(lambda), photopic, linear between the 1 nm entries of the CIE table; 0 outside 360 nm to 830 nm.
/// Source: CIE 018:2019, Table 1.
[[nodiscard]] double luminous_efficiency(double wavelength_nm);

/// Relative spectral distribution of CIE standard illuminant A, 100 at 560 nm; another colour temperature
/// scales the exponent (a black body to 2e-4). Source: ISO/CIE 11664-2, formula for illuminant A.
[[nodiscard]] double incandescent_distribution(double wavelength_nm, double colour_temperature_k = 2856);

/// A tabulated curve over wavelength in metres, strictly increasing; linear in between, 0 outside.
struct Tabulated {
    std::span<const double> wavelength_m;
    std::span<const double> value;
};

/// Spectral mismatch correction factor F* of a photometer with relative responsivity s, calibrated with an
/// incandescent source, that reads a source with spectrum Z: F* = int Z V int A s / (int Z s int A V); F*
/// multiplies the reading.
///
/// Integrals are trapezoids at 1 nm. Empty where source and responsivity, or source and V(lambda), do not
/// overlap. Source: CIE S 017:2020, term 17-25-115.
[[nodiscard]] std::optional<double> spectral_mismatch_factor(const Tabulated& source,
                                                             const Tabulated& responsivity,
                                                             double calibration_colour_temperature_k = 2856);

/// General V(lambda) mismatch index f1' as a fraction: s normalised with illuminant A, int |s* - V| / int V.
/// Empty where responsivity and V(lambda) do not overlap. Source: ISO/CIE 19476:2014.
[[nodiscard]] std::optional<double> general_mismatch_index(const Tabulated& responsivity);

}  // namespace luxdossier::photometry
