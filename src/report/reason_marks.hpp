#pragma once

#include "report/document.hpp"

#include <string>
#include <utility>
#include <vector>

namespace luxdossier::report {

/// Letters that stand in a table in the place of a reason, which a note below it says once. Reasons that
/// differ only in their figures share a letter.
class ReasonMarks {
public:
    [[nodiscard]] std::string mark_of(const std::string& reason);
    /// "a not decided: reference not traceable", in the order of the letters.
    [[nodiscard]] std::vector<Text> notes() const;

private:
    std::vector<std::pair<std::vector<std::string>, std::string>> marks_;
};

}  // namespace luxdossier::report
