#pragma once

#include "cli/stages.hpp"

#include <string>

namespace luxdossier::cli {

/// A template of the report: one that comes with the program, or a file of the user's own.
struct Template {
    std::string name;  ///< "customer", or the name of the file
    std::string text;
    std::filesystem::path file;  ///< empty: comes with the program
};

/// Errors: InputFault for a name that is neither; std::system_error with the path.
[[nodiscard]] Template read_template(const std::string& name);

/// A template of the user's own belongs to the evidence.
void add_template(const Template& chosen, Inputs& inputs);

}  // namespace luxdossier::cli
