#pragma once

#include "model/stated_model.hpp"

#include <string>
#include <vector>

namespace luxdossier::intake {

/// Follows the units of the inputs through an equation and tells where they do not fit: sums of unlike units,
/// functions of what is no pure number, a result in another unit than stated. Equations take the numbers as
/// written: a sum of mm and m is told as well. Numbers of the equation have no unit and fit any sum; beside a
/// root of a unit nothing is told. Units are known to udunits2.
[[nodiscard]] std::vector<std::string> unit_remarks(const model::StatedModel& model);

}  // namespace luxdossier::intake
