#pragma once

#include "report/parts.hpp"

#include <string_view>

namespace luxdossier::report {

/// Heading of the one column of values in a table of results that belong to no sample; a unit follows.
inline constexpr std::string_view value_heading = "Value ± U";

/// Tables of such metrics that follow each other and have the same rows become one, a few metrics side by
/// side, each under its own name.
[[nodiscard]] Blocks side_by_side(Blocks blocks);

}  // namespace luxdossier::report
