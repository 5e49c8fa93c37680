#pragma once

#include "model/dossier.hpp"

#include <string>

namespace luxdossier::test {

/// A hand-made dossier: `samples` units at `levels` levels, one budget behind every result, `limits` limits
/// that judge them. Ids are `id_length` characters long.
[[nodiscard]] model::Dossier small_dossier(std::size_t samples = 2, std::size_t levels = 3,
                                           std::size_t limits = 3, std::size_t id_length = 4);

/// The customer template as it is delivered.
[[nodiscard]] std::string customer_template();

}  // namespace luxdossier::test
