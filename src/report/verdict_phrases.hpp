#pragma once

#include "report/document.hpp"

#include <string>
#include <vector>

namespace luxdossier::report {

/// "Reading error: bare, 100 lx to 10 000 lx: ±6 %", with what the customer's document calls it.
[[nodiscard]] Text limit_text(const model::Dossier& dossier, const model::Limit& limit);

/// Conditions that all results of a limit share: said once, in its heading, where its selection does not name
/// them.
struct SharedConditions {
    std::vector<std::string> names;
    std::string said;
};
[[nodiscard]] SharedConditions shared_conditions(const model::Dossier& dossier, const model::Limit& limit,
                                                 const std::vector<std::size_t>& verdicts);

/// Conditions of the bench rather than of the measurand (distance, temperature ...) that all results of a
/// limit share: they tell no two of them apart, so that a table says them once.
[[nodiscard]] SharedConditions shared_bench_conditions(const model::Dossier& dossier,
                                                       const model::Limit& limit,
                                                       const std::vector<std::size_t>& verdicts);
/// Sample and conditions of a verdict without those that are shared; what was expected where there is no
/// result.
[[nodiscard]] std::string subject_within(const model::Dossier& dossier, const model::Verdict& verdict,
                                         const std::vector<std::string>& shared);

/// Verdicts of a limit that every result passes with a conformance probability above 99.9 %: value, U and
/// margin in a matrix of level or angle and sample. No blocks where the limit is not of that kind: its
/// verdicts are listed one by one.
[[nodiscard]] std::vector<Block> verdict_matrix(const model::Dossier& dossier, std::size_t limit);

}  // namespace luxdossier::report
