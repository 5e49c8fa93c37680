#include "report/reason_marks.hpp"

#include "report/symbols.hpp"
#include "report/together.hpp"

namespace luxdossier::report {

std::string ReasonMarks::mark_of(const std::string& reason)
{
    const std::string words = words_without_figures(reason);
    for (auto& [reasons, mark] : marks_) {
        if (words_without_figures(reasons.front()) != words)
            continue;
        reasons.push_back(reason);
        return mark;
    }
    const auto letter = static_cast<char>('a' + static_cast<int>(marks_.size() % 26));
    marks_.emplace_back(std::vector{reason}, std::string(marks_.size() / 26 + 1, letter));
    return marks_.back().second;
}

std::vector<Text> ReasonMarks::notes() const
{
    std::vector<Text> notes;
    for (const auto& [reasons, mark] : marks_) {
        Text note = styled(mark, Style::superscript);
        append(note, plain(" not decided: " + told_together(reasons).front().text));
        notes.push_back(std::move(note));
    }
    return notes;
}

}  // namespace luxdossier::report
