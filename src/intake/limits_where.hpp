#pragma once

#include "intake/object_reader.hpp"
#include "model/limits.hpp"
#include "model/qualification.hpp"

#include <map>
#include <set>
#include <string>
#include <vector>

namespace luxdossier::intake {

/// What a qualification offers to the selections of limits: ids, nominal levels and stated conditions.
struct Offer {
    bool known = false;  ///< false: no qualification could be read, so that nothing can be missed
    std::vector<std::string> samples, configurations, sources, corrections;
    /// Conditions other than these three that runs state or hold as columns, levels included, in record
    /// units.
    std::map<std::string, std::set<std::string>, std::less<>> texts;
    std::map<std::string, std::set<double>, std::less<>> numbers;
    std::map<std::string, std::string, std::less<>> units;  ///< of the numbers
};

/// What a qualification offers; nullptr gives an offer that is not known.
[[nodiscard]] Offer offer_of(const model::Qualification* qualification);

/// Reads `where`: names are checked against the metric's conditions and those that runs state, values against
/// what is offered.
[[nodiscard]] std::vector<model::Selector> read_where(const JsonReading& reading, const JsonValue& where,
                                                      const model::MetricEntry& metric, const Offer& offer);

/// Reads `expects`: ids that the qualification knows, of conditions that the metric carries.
[[nodiscard]] model::Expects read_expects(const JsonReading& reading, const JsonValue& expects,
                                          const model::MetricEntry& metric, const Offer& offer);

}  // namespace luxdossier::intake
