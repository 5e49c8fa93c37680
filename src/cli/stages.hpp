#pragma once

#include "diagnostics/diagnostic.hpp"
#include "model/dossier.hpp"

#include <filesystem>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace luxdossier::cli {

/// Bad input or usage, said in one text: exit code 2.
class InputFault : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};

class HashedFiles;

/// Where the bytes of an input come from, for the copy of a file that is not kept in memory.
struct Source {
    std::shared_ptr<const HashedFiles> files;
    std::string name;  ///< in the folder of `files`
};

/// Everything that was read: the qualification with all its files, and the limits where there are any.
struct Inputs {
    std::filesystem::path folder;
    model::Qualification qualification;
    std::optional<model::Limits> limits;
    std::vector<Source> sources;  ///< of each file of Qualification::files
};

/// Reads folder and limits; `limits` empty: limits.json of the folder where it is there. All faults are
/// appended; empty where there was an error. Errors: InputFault; std::system_error.
[[nodiscard]] std::optional<Inputs> read_inputs(const std::string& folder, const std::string& limits,
                                                diagnostics::Diagnostics& diagnostics);
/// The same, with all faults as the text of one InputFault.
[[nodiscard]] Inputs read_or_fail(const std::string& folder, const std::string& limits);

/// Evaluates, examines and judges: everything of a dossier that is computed; with trials where asked for. The
/// figures are drawn by metrics::figures(), for those who print them.
[[nodiscard]] model::Dossier evaluate_inputs(Inputs inputs, bool with_trials = false);

/// Evaluates measurement models that stand alone, with trials to the stated digits.
[[nodiscard]] model::Dossier evaluate_models(model::Qualification qualification);

/// The one date of all writers: SOURCE_DATE_EPOCH, else the header's `issued`, else the clock.
[[nodiscard]] model::TimePoint date_of(const model::Qualification& qualification);

/// A sentence on what passes and what does not: "fail: 26 limits, 23 pass, 1 fails, 2 not decided".
[[nodiscard]] std::string overall_line(const model::Dossier& dossier);
/// 0 where every limit passes or there are none, else 1.
[[nodiscard]] int exit_code_of(const model::Verdicts& verdicts);
/// The table of verdicts for the terminal, with the reasons below it and the overall outcome last.
[[nodiscard]] std::string verdict_table(const model::Dossier& dossier, bool all);
/// What the uncertainty of inputs would have to become for limits to pass that a guard band alone keeps from
/// it: of each limit the result that needs most, or all of them.
[[nodiscard]] std::string needs_text(const model::Dossier& dossier, bool all);

}  // namespace luxdossier::cli
