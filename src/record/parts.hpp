#pragma once

#include "model/dossier.hpp"
#include "record/json_writer.hpp"

namespace luxdossier::record {

// Parts of the record, each a member of its top object.

void write_origin(JsonWriter& json, const model::Dossier& dossier);  ///< program, date, document, inputs
/// Place, room, sampling, deviations, chain of the equipment.
void write_laboratory(JsonWriter& json, const model::Dossier& dossier);
/// How the parts of runs were joined, and lines among the readings that are no rows.
void write_run_files(JsonWriter& json, const model::Dossier& dossier);
void write_results(JsonWriter& json, const model::Dossier& dossier);  ///< results with their budgets
/// Every input of the budgets once, with what it is: budgets name it.
void write_input_quantities(JsonWriter& json, const model::Dossier& dossier);
void write_groups(JsonWriter& json, const model::Dossier& dossier);  ///< covariances of correlated inputs
void write_specification(JsonWriter& json, const model::Dossier& dossier);  ///< limits and their outcomes
void write_decisions(JsonWriter& json, const model::Dossier& dossier);      ///< verdicts, joint, overall
void write_remarks(JsonWriter& json, const model::Dossier& dossier);

}  // namespace luxdossier::record
