#pragma once

#include "diagnostics/diagnostic.hpp"
#include "model/dossier.hpp"

#include <functional>
#include <span>
#include <string>
#include <string_view>

namespace luxdossier::record {

/// The record (`luxdossier/record/1`) as JSON text; numbers read back exactly, infinite degrees of freedom
/// are null.
[[nodiscard]] std::string write_record(const model::Dossier& dossier);
/// The same in pieces of about a megabyte: that of many samples with hundreds of inputs takes hundreds.
void write_record(const model::Dossier& dossier, const std::function<void(std::string_view)>& sink);
/// Only verdicts and overall, for `verdicts --json`.
[[nodiscard]] std::string write_verdicts(const model::Dossier& dossier);

/// Results of measurement models that stand alone, in the form of the record, for `budget --json`.
[[nodiscard]] std::string write_budget(const model::Dossier& dossier);

/// The corrections that the header asks for (`luxdossier/correction/1`), for those who put them into the
/// product: gains and offsets with their uncertainties and covariance, and the error that remains.
[[nodiscard]] std::string write_corrections(const model::Dossier& dossier);

/// Faults and remarks, for `check --json`.
[[nodiscard]] std::string write_check(std::span<const diagnostics::Diagnostic> faults,
                                      const model::Dossier& dossier);

}  // namespace luxdossier::record
