#pragma once

#include <optional>
#include <string>

namespace luxdossier::model {

/// A correction of the product's reading that the header asks for: corrected = offset + gain x reading.
struct CorrectionRequest {
    std::string id;
    std::string configuration;  ///< empty where the header declares none
    bool with_offset = false;
    bool per_sample = false;  ///< a correction for every unit; else one for the fleet
    bool per_source = false;
    std::optional<double> lowest_lx, highest_lx;  ///< nominal levels that the fit may use
};

}  // namespace luxdossier::model
