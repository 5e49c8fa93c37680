#include "cli/cli.hpp"

#include <fmt/format.h>

namespace luxdossier::cli {

int run(int, char**)
{
    fmt::print("luxdossier 0.1.0\n");
    return 0;
}

}  // namespace luxdossier::cli
