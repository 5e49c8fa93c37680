#pragma once

#include "model/dossier.hpp"

#include <string>

namespace luxdossier::test {

/// "bridge-dimmer" or "tiny": the folder below fixtures/.
[[nodiscard]] std::string fixture(const std::string& name);
/// Makes a folder with ids of 60 characters, 40 samples at 60 levels and 200 limits in the build folder; of
/// its 24 000 results the 2000 judged ones are validated by trials, as one would ask for with so many.
[[nodiscard]] std::string write_crowded_folder();
/// Everything that the report command does with a folder before it composes pages, without trials.
[[nodiscard]] model::Dossier whole_dossier(const std::string& folder);

}  // namespace luxdossier::test
