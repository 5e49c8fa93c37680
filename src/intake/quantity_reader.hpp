#pragma once

#include "intake/object_reader.hpp"

namespace luxdossier::intake {

/// Reads {"value", "unit"} with at most one statement of its uncertainty: "standard_uncertainty",
/// "expanded_uncertainty" with "coverage_factor", or "half_width" (rectangular), all in the same unit.
/// Units: the result is in the canonical unit of `dimension`. `name` is the key, for messages.
[[nodiscard]] std::optional<model::Quantity> read_quantity(const JsonReading& reading, const JsonValue& value,
                                                           std::string_view name, const Dimension& dimension,
                                                           Range range = Range::any);

/// Reads {"value", "unit"} where an uncertainty would not be used and is therefore refused.
[[nodiscard]] std::optional<double> read_plain_quantity(const JsonReading& reading, const JsonValue& value,
                                                        std::string_view name, const Dimension& dimension,
                                                        Range range = Range::any);

/// Reads the text of a unit; a fault where udunits2 does not know it or it is of another dimension.
[[nodiscard]] std::optional<Conversion> read_unit(const JsonReading& reading, const JsonValue& value,
                                                  std::string_view name, const Dimension& dimension);

/// A value and unit of the user's own choice, for conditions: in the canonical unit of whatever dimension it
/// has.
[[nodiscard]] std::optional<model::ConditionQuantity>
read_free_quantity(const JsonReading& reading, const JsonValue& value, std::string_view name);

}  // namespace luxdossier::intake
