#include "diagnostics/diagnostic.hpp"

#include <algorithm>
#include <numeric>

#include <fmt/format.h>

namespace luxdossier::diagnostics {

bool Diagnostics::has_errors() const
{
    return std::ranges::any_of(all_, [](const Diagnostic& one) { return one.severity == Severity::error; });
}

void Diagnostics::sort_by_location()
{
    std::vector<std::string> files;
    const auto rank = [&files](const Diagnostic& one) {
        const auto found = std::ranges::find(files, one.location.file);
        if (found != files.end())
            return found - files.begin();
        files.push_back(one.location.file);
        return static_cast<std::ptrdiff_t>(files.size()) - 1;
    };
    for (const auto& one : all_)
        (void)rank(one);
    std::ranges::stable_sort(all_, {}, [&rank](const Diagnostic& one) {
        return std::tuple(rank(one), one.location.line, one.location.column);
    });
}

std::string render(const Diagnostic& diagnostic)
{
    const auto& at = diagnostic.location;
    std::string text = at.file;
    if (at.line > 0)
        text += fmt::format(":{}", at.line);
    if (at.line > 0 && at.column > 0)
        text += fmt::format(":{}", at.column);
    if (!text.empty())
        text += ": ";
    text += diagnostic.severity == Severity::error ? "error: " : "warning: ";
    text += diagnostic.found;
    if (!diagnostic.expected.empty())
        text += ", expected " + diagnostic.expected;
    if (!at.pointer.empty())
        text += " (at " + at.pointer + ")";
    text += '\n';
    if (!diagnostic.source_line.empty() && at.line > 0) {
        const auto number = fmt::format("{}", at.line);
        text += fmt::format("  {} | {}\n", number, diagnostic.source_line);
        if (diagnostic.caret_length > 0 && at.column > 0)
            text += fmt::format("  {} | {}{}\n", std::string(number.size(), ' '), std::string(at.column - 1, ' '),
                                std::string(diagnostic.caret_length, '^'));
    }
    if (!diagnostic.advice.empty())
        text += "  advice: " + diagnostic.advice + "\n";
    return text;
}

std::string_view nearest(std::string_view name, std::span<const std::string_view> candidates)
{
    std::string_view best;
    std::size_t best_distance = std::max<std::size_t>(1, name.size() / 3) + 1;
    for (const auto candidate : candidates) {
        // Levenshtein, one row; a swap of neighbours counts as two, which the bound allows for.
        std::vector<std::size_t> row(candidate.size() + 1);
        std::iota(row.begin(), row.end(), std::size_t{0});
        for (std::size_t i = 1; i <= name.size(); ++i) {
            auto diagonal = row[0];
            row[0] = i;
            for (std::size_t j = 1; j <= candidate.size(); ++j) {
                const auto substitution = diagonal + (name[i - 1] == candidate[j - 1] ? 0 : 1);
                diagonal = row[j];
                row[j] = std::min({substitution, row[j] + 1, row[j - 1] + 1});
            }
        }
        if (row.back() < best_distance) {
            best_distance = row.back();
            best = candidate;
        }
    }
    return best;
}

}  // namespace luxdossier::diagnostics
