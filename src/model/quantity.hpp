#pragma once

#include "uncertainty/graph.hpp"

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <variant>

namespace luxdossier::model {

/// A value with its unit and, where stated, its standard uncertainty; in canonical units (lx, m, s, rad, K,
/// 1, ...). Percent in files has become a fraction. Where a half-width was stated the distribution is
/// rectangular.
struct Quantity {
    double value = 0;
    std::string unit;  ///< canonical
    std::optional<double> standard_uncertainty;
    std::optional<double> half_width;  ///< as stated, where it was
    uncertainty::Distribution distribution = uncertainty::Distribution::normal;
    double degrees_of_freedom = uncertainty::infinite;
    std::string note;
    double written_value = 0;  ///< as in the file, for reports
    std::string written_unit;
};

/// Value of a condition: text (an id or a word) or a quantity with a unit.
struct ConditionQuantity {
    double value = 0;
    std::string unit;  ///< record unit: lx for level, degree for plane and angle, else canonical
    auto operator<=>(const ConditionQuantity&) const = default;
};
using ConditionValue = std::variant<std::string, ConditionQuantity>;
/// Sorted by name.
using Conditions = std::map<std::string, ConditionValue>;

/// "100lx", "led": as ids and messages print a condition.
[[nodiscard]] std::string condition_text(const ConditionValue& value);

using Date = std::chrono::sys_days;
/// Seconds since 1970-01-01T00:00:00 of the bench's own clock; offsets in ISO 8601 text are honoured.
struct TimePoint {
    double seconds = 0;
    [[nodiscard]] Date date() const;
    auto operator<=>(const TimePoint&) const = default;
};
[[nodiscard]] std::string date_text(Date date);  ///< ISO 8601, "2025-03-10"

}  // namespace luxdossier::model
