#pragma once

#include "model/limits.hpp"

namespace luxdossier::test {

/// A catalogue of metrics for tests of readers: ids, record units and conditions as the reference lists them.
[[nodiscard]] inline model::MetricCatalogue catalogue()
{
    const std::vector<std::string> at_level{"configuration", "source", "level"};
    return {
        {"illuminance", "lx", at_level, true},
        {"reading_error", "%", at_level, true},
        {"reading_difference", "lx", at_level, true},
        {"remaining_error", "%", {"correction", "configuration", "source", "level"}, true},
        {"window_response_ratio", "1", at_level, true},
        {"linearity_deviation", "%", {"configuration", "source", "level", "line", "relative_to"}, true},
        {"source_difference", "%", {"configuration", "source", "other_source", "level"}, true},
        {"half_response_angle", "degree", {"configuration", "source", "plane", "side"}, true},
        {"directional_index", "%", {"configuration", "source", "plane"}, true},
        {"angular_response", "1", {"configuration", "source", "plane", "angle"}, true},
        {"warm_up_time", "s", {"source"}, false},
    };
}

}  // namespace luxdossier::test
