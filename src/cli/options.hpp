#pragma once

#include <optional>
#include <string>
#include <variant>

namespace luxdossier::cli {

enum class Command { report, verdicts, check, budget };

/// What the command line asks for.
struct Options {
    Command command = Command::report;
    std::string folder;  ///< `budget`: a file of models
    std::string limits;  ///< empty: limits.json of the folder, where it is there
    std::string out;     ///< empty: dossier/ in the folder
    std::string template_name = "customer";
    std::string paper = "a4";
    bool replace = false;
    bool timings = false;
    bool json = false;
    bool all = false;
    bool no_trials = false;
    bool needs = false;
};

/// The command line is answered without running a command: a help text, or what is wrong with it.
struct Answer {
    std::string text;
    bool is_fault = false;
};

/// Reads the command line by the table of options.
[[nodiscard]] std::variant<Options, Answer> parse_command_line(int argc, const char* const* argv);

}  // namespace luxdossier::cli
