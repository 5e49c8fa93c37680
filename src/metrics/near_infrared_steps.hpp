#pragma once

#include "model/qualification.hpp"

#include <cstdint>
#include <vector>

namespace luxdossier::metrics {

/// Readings of a near-infrared run at one irradiance.
struct IrradianceStep {
    double mean_w_m2 = 0;
    std::vector<std::uint32_t> rows;
};

/// Steps of a run in ascending order of irradiance: neighbouring rows that hold sensor and irradiance make
/// one step as long as the irradiance stays within 10 % of their mean and 2 % of the greatest of the run.
[[nodiscard]] std::vector<IrradianceStep> irradiance_steps(const model::Run& run);

}  // namespace luxdossier::metrics
