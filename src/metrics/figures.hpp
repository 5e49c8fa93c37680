#pragma once

#include "model/dossier.hpp"

#include <vector>

namespace luxdossier::metrics {

// Figures of the metric families as values; words and sizes are for the page. Limits and
// guard bands come from the limits and verdicts of the dossier.

/// One figure, one panel a source: level relative to its final value against time in minutes, thinned so that
/// extremes stay.
[[nodiscard]] std::vector<model::Figure> warm_up_figures(const model::Dossier& dossier);

/// One figure a configuration and source: reading against illuminance of every sample, then the deviations,
/// one panel a sample. Where there is one sample, its deviations below its readings.
[[nodiscard]] std::vector<model::Figure> linearity_figures(const model::Dossier& dossier);

/// One figure a configuration, one panel a sample: reading error under each source.
[[nodiscard]] std::vector<model::Figure> source_variation_figures(const model::Dossier& dossier);

/// One figure a configuration and source: signal-to-noise ratio against illuminance of every sample.
[[nodiscard]] std::vector<model::Figure> low_light_figures(const model::Dossier& dossier);

/// One figure a configuration and source: reading error against temperature, one panel a sample.
[[nodiscard]] std::vector<model::Figure> temperature_figures(const model::Dossier& dossier);

/// One figure: reading against near-infrared irradiance, one panel a configuration.
[[nodiscard]] std::vector<model::Figure> near_infrared_figures(const model::Dossier& dossier);

/// One figure a configuration and source: every sample, the tolerance interval and the limits per level.
[[nodiscard]] std::vector<model::Figure> samples_figures(const model::Dossier& dossier);

/// One figure: spectra of the sources and responsivities over V(lambda).
[[nodiscard]] std::vector<model::Figure> spectra_figures(const model::Dossier& dossier);

/// One figure a correction and source: reading errors before and after.
[[nodiscard]] std::vector<model::Figure> correction_figures(const model::Dossier& dossier);

/// One figure a waveform: worst-case error against integration time, the product's own marked.
[[nodiscard]] std::vector<model::Figure> ripple_figures(const model::Dossier& dossier);

/// One polar figure a sample, configuration and source: response in every plane, the target, the
/// half-response angles.
[[nodiscard]] std::vector<model::Figure> angular_figures(const model::Dossier& dossier);

/// One figure a configuration and source: reading error per level of every sample.
[[nodiscard]] std::vector<model::Figure> reading_error_figures(const model::Dossier& dossier);

}  // namespace luxdossier::metrics
