#pragma once

#include "metrics/metrics.hpp"

namespace luxdossier::metrics {

// One function per metric family, one file each; registry.cpp holds them in order.

[[nodiscard]] Family dark_family();
[[nodiscard]] Family warm_up_family();
[[nodiscard]] Family position_factor_family();
[[nodiscard]] Family field_uniformity_family();
[[nodiscard]] Family illuminance_family();
[[nodiscard]] Family reading_error_family();
[[nodiscard]] Family linearity_family();
[[nodiscard]] Family correction_family();
[[nodiscard]] Family low_light_family();
[[nodiscard]] Family source_variation_family();
[[nodiscard]] Family temperature_family();
[[nodiscard]] Family near_infrared_family();
[[nodiscard]] Family ripple_family();
[[nodiscard]] Family samples_family();
[[nodiscard]] Family spectra_family();
[[nodiscard]] Family window_family();
[[nodiscard]] Family angular_family();

}  // namespace luxdossier::metrics
