#pragma once

#include "diagnostics/diagnostic.hpp"
#include "model/dossier.hpp"

#include <optional>
#include <string>

namespace luxdossier::fuzz {

/// Ends the program, saying which promise is broken.
void promise(bool holds, const std::string& what);

/// Reads, evaluates and judges the base folder of tests/cases with one file exchanged. Empty where the input
/// is refused. Promises held: refused if and only if a fault is told, at most with a text of sane length;
/// every result that is decided has a finite value, and an uncertainty that is a number above or at 0.
[[nodiscard]] std::optional<model::Dossier> evaluate_with(const std::string& file, std::string content);

/// Which file of readings is exchanged: bare.csv, or as LUXDOSSIER_FUZZ_FILE says.
[[nodiscard]] std::string readings_file();

/// Composes and lays out the report, and writes the record: they take whatever the evaluation gives.
void write_all(const model::Dossier& dossier, const std::string& template_text);

/// Bytes of a file below the base folder.
[[nodiscard]] std::string base_file(const std::string& file);

}  // namespace luxdossier::fuzz
