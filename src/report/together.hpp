#pragma once

#include <string>
#include <vector>

namespace luxdossier::report {

/// Sentences that differ at most in their figures, told as one.
struct Told {
    std::string text;                  ///< a figure that differs reads "97 557 to 100 350"
    std::vector<std::size_t> members;  ///< places in the list, in its order
};

/// Groups sentences that are equal but for figures that stand as words of their own ("M2" and "K-2025" are
/// names). Groups come in the order of their first members.
[[nodiscard]] std::vector<Told> told_together(const std::vector<std::string>& sentences);

/// What two sentences must share to be told as one: the sentence with each figure replaced by one sign.
[[nodiscard]] std::string words_without_figures(const std::string& sentence);

/// "run a", "run b" and "run c" as "runs a, b and c"; others joined as they are.
[[nodiscard]] std::string joined_subjects(const std::vector<std::string>& subjects);

}  // namespace luxdossier::report
