#pragma once

#include "model/dossier.hpp"

#include <string>

namespace luxdossier::record {

/// The record (`luxdossier/record/1`) as JSON text; numbers read back exactly, infinite degrees of freedom are null.
[[nodiscard]] std::string write_record(const model::Dossier& dossier);
/// Only verdicts and overall, for `verdicts --json`.
[[nodiscard]] std::string write_verdicts(const model::Dossier& dossier);

}  // namespace luxdossier::record
