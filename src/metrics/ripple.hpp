#pragma once

#include "model/qualification.hpp"
#include "photometry/ripple.hpp"

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::metrics {

/// Frequency of mains or of a supply is taken to stay within this, relative.
inline constexpr double frequency_tolerance = 0.01;

/// Integration time of the product with its tolerance: that of the run, else the product's.
[[nodiscard]] std::optional<photometry::Integration> integration_of(const model::Qualification& qualification,
                                                                    const model::Run* run);

/// Frequencies at which a supply can make light ripple: f and 2 f of the mains, f of a pulsed supply.
[[nodiscard]] std::vector<double> supply_frequencies(const model::Source& source);

/// The waveform of a run, analysed.
[[nodiscard]] photometry::RippleAnalysis ripple_of(const model::Run& run);

}  // namespace luxdossier::metrics
