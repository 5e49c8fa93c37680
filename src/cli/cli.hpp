#pragma once

namespace luxdossier::cli {

/// Runs the program; returns its exit code (0 done and all pass, 1 something does not, 2 bad input or usage,
/// 3 the environment, 4 an internal defect).
int run(int argc, char** argv);

}  // namespace luxdossier::cli
