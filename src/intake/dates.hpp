#pragma once

#include "model/quantity.hpp"

#include <optional>
#include <string_view>

namespace luxdossier::intake {

/// Calendar date in the extended form of ISO 8601-1:2019, 5.2.2.1: "2025-03-10". Empty where the text is
/// none.
[[nodiscard]] std::optional<model::Date> parse_date(std::string_view text);

/// Seconds since 1970-01-01T00:00:00 of a date with a time of day in the extended form of ISO
/// 8601-1:2019, 5.4: "2025-03-10T09:30", seconds and their decimal fraction (point or comma) optional, offset
/// "Z" or "+01:00" optional and subtracted where it stands; a space may stand for the T. Empty where the text
/// is none.
[[nodiscard]] std::optional<double> parse_date_time(std::string_view text);

}  // namespace luxdossier::intake
