#include "model/deviations.hpp"

#include "model/numerals.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::model {
namespace {

/// Whether meter and product stood in one place one after the other. A run that logs one of them alone tells
/// nothing by its rows.
bool is_substitution(const Run& run)
{
    const auto logs = [&run](std::string_view column) {
        return run.table && run.table->number(column) != nullptr;
    };
    return !run.is_side_by_side() && (run.method || (logs("sensor") && logs("meter")));
}

}  // namespace

std::vector<std::string> deviations_of(const Qualification& qualification)
{
    auto deviations = qualification.document.deviations;
    std::vector<std::string> substituted;
    std::size_t side_by_side = 0;
    for (const auto& run : qualification.runs) {
        if (run.kind != RunKind::comparison)
            continue;
        if (!is_substitution(run))
            ++side_by_side;
        else if (std::ranges::find(substituted, run.id) == substituted.end())
            substituted.push_back(run.id);
    }
    if (substituted.empty() || side_by_side == 0)
        return deviations;
    constexpr std::size_t most_named = 6;
    const auto more = substituted.size() - std::min(substituted.size(), most_named);
    substituted.resize(substituted.size() - more);
    deviations.push_back(
        fmt::format("by substitution, unlike the other comparisons, which were read side by side: run{} "
                    "{}{}",
                    substituted.size() + more == 1 ? "" : "s", fmt::join(substituted, ", "),
                    more == 0 ? "" : fmt::format(" and {} more", more)));
    return deviations;
}

std::string join_words(const Run& run)
{
    if (run.files.size() < 2)
        return {};
    std::vector<std::string> parts;
    double apart_s = 0;
    std::string how;
    for (const auto& file : run.files) {
        parts.push_back(fmt::format("{} of {} rows of {}", file.matched_rows,
                                    file.matched_rows + file.unmatched_rows, file.file));
        apart_s = std::max(apart_s, file.largest_time_difference_s);
        if (&file != &run.files.front() && how.find(file.join) == std::string::npos)
            how += (how.empty() ? "" : "; ") + file.join;
    }
    const auto by_time = how.starts_with("by time");
    return fmt::format("joined {}: {} belong together{}", how, fmt::join(parts, ", "),
                       by_time ? fmt::format(", at most {} s apart", numeral(apart_s, 3)) : std::string());
}

}  // namespace luxdossier::model
