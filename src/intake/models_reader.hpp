#pragma once

#include "diagnostics/diagnostic.hpp"
#include "intake/object_reader.hpp"
#include "model/qualification.hpp"

#include <optional>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

/// Reads "models" of a header or of a file of models.
[[nodiscard]] std::vector<model::StatedModel> read_models(ObjectReader& root);

}  // namespace luxdossier::intake
