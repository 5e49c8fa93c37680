#pragma once

#include "metrics/levels.hpp"

#include <optional>
#include <string>

namespace luxdossier::metrics {

/// Conditions of a run by which readings under different sources or configurations belong together: all but
/// `name` ("source", "configuration"), the distance and the temperature of the meter.
[[nodiscard]] model::Conditions shared_conditions(const Bench& bench, std::size_t run,
                                                  const std::string& name);

/// Response D/E with its trail; the reason it is missing, or tells nothing relative, is on the trail.
struct Response {
    std::optional<Expression> ratio;  ///< D/E
    Trail trail;
};
[[nodiscard]] Response response_of(Bench& bench, const LevelReading& level);

/// The response under another source at the illuminance of a level: of the level of the same sample,
/// configuration and further conditions whose evaluated illuminance agrees within 5 % (the same nominal
/// level first, then the same distance, then the nearest), else interpolated over ln E between the two
/// neighbours of one run, with an input of half their difference for the course in between. Empty where the
/// other source has neither.
[[nodiscard]] std::optional<Response> response_under(Bench& bench, const LevelReading& level,
                                                     const std::string& source);

}  // namespace luxdossier::metrics
