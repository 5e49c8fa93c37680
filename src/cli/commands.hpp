#pragma once

#include "cli/options.hpp"

namespace luxdossier::cli {

// The commands, one file each. They return the exit code; what goes wrong is thrown and told in run().

int report(const Options& options);
int verdicts(const Options& options);
int check(const Options& options);
int budget(const Options& options);

}  // namespace luxdossier::cli
