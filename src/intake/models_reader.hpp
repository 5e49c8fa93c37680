#pragma once

#include "diagnostics/diagnostic.hpp"
#include "intake/object_reader.hpp"
#include "model/limits.hpp"
#include "model/qualification.hpp"

#include <optional>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

/// Reads "models" of a header or of a file of models. In a header the id of a model is the metric of its
/// result, which cannot be one of `metrics`.
[[nodiscard]] std::vector<model::StatedModel> read_models(ObjectReader& root,
                                                          const model::MetricCatalogue& metrics = {});

}  // namespace luxdossier::intake
