#include "metrics/cancellation.hpp"

#include "metrics/figure_parts.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// An input cancels where no more than this share of its contribution is left.
constexpr double cancelled_share = 0.02;
/// Contributions below this many units of the result are not worth a word.
constexpr double worth_a_word = 0.001;
constexpr std::size_t named_at_most = 4;

/// "linearity of M1 at 100 lx" and "certificate of M1, point 10 lx" at all levels are one quantity to the
/// reader.
std::string without_level(const std::string& quantity)
{
    if (!quantity.ends_with(" lx"))
        return quantity;
    if (const auto at = quantity.find(", point "); at != std::string::npos)
        return quantity.substr(0, at) + ", single points";
    const auto at = quantity.find(" at ");
    return at == std::string::npos ? quantity : quantity.substr(0, at);
}

}  // namespace

void Cancellation::note(const Expression& part, const Expression& whole)
{
    const auto& graph = part.builder().graph();
    const auto left = graph.sensitivities(whole.node());
    for (const auto& [input, coefficient] : graph.sensitivities(part.node())) {
        const auto& quantity = graph.inputs()[input.index];
        const double alone = std::abs(coefficient) * quantity.standard_uncertainty;
        const auto found = std::ranges::find(left, input, &uncertainty::Sensitivity::input);
        if (alone < worth_a_word || found == left.end())
            continue;
        const double remains = std::abs(found->coefficient) * quantity.standard_uncertainty;
        if (remains > cancelled_share * alone)
            continue;
        auto& largest = by_quantity_[without_level(quantity.quantity)];
        largest.alone = std::max(largest.alone, alone);
        largest.left = std::max(largest.left, remains);
    }
}

std::string Cancellation::words(const std::string& unit) const
{
    std::vector<std::pair<std::string, Largest>> sorted(by_quantity_.begin(), by_quantity_.end());
    std::ranges::stable_sort(sorted, std::ranges::greater(),
                             [](const auto& entry) { return entry.second.alone; });
    std::string text;
    for (std::size_t i = 0; i < std::min(sorted.size(), named_at_most); ++i) {
        const auto& [quantity, largest] = sorted[i];
        text += fmt::format(
            "{}{} (u of {} {} alone, {} here)", i == 0 ? "" : "; ", quantity, short_text(largest.alone), unit,
            largest.left < worth_a_word ? fmt::format("below {} {}", worth_a_word, unit)
                                        : fmt::format("{} {}", short_text(largest.left), unit));
    }
    if (sorted.size() > named_at_most)
        text += fmt::format("; and {} more", sorted.size() - named_at_most);
    return text;
}

}  // namespace luxdossier::metrics
