#include "cli/stages.hpp"

#include "conformity/improvement.hpp"
#include "report/verdict_phrases.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

/// One result that has to improve.
struct Need {
    std::size_t verdict = 0;
    conformity::Improvement improvement;
};

std::string text_of(const model::Dossier& dossier, const Need& need)
{
    constexpr double share_worth_a_line = 0.01;
    const auto& verdict = dossier.verdicts.verdicts[need.verdict];
    auto text =
        fmt::format("{}, {}: {}, passes with U at most {:.3f} times what it is\n",
                    dossier.limits->limits[verdict.limit].id, report::verdict_subject(dossier, verdict),
                    model::outcome_text(verdict.outcome), need.improvement.whole);
    bool is_any = false;
    for (const auto& one : need.improvement.inputs) {
        if (!one.factor && one.share < share_worth_a_line)
            continue;
        const auto& input = dossier.evaluation.graph.inputs()[one.input.index];
        is_any = is_any || one.factor.has_value();
        text += fmt::format("  {} ({}), {:.1f} % of the variance: {}\n", input.symbol, input.identity,
                            100 * one.share,
                            one.factor ? fmt::format("its u to {:.3f} times what it is", *one.factor)
                                       : std::string("not by this input alone"));
    }
    if (!is_any)
        text += "  no input does it alone: several have to improve\n";
    return text;
}

}  // namespace

std::string needs_text(const model::Dossier& dossier, bool all)
{
    if (!dossier.limits)
        return {};
    std::string text;
    for (std::size_t limit = 0; limit < dossier.limits->limits.size(); ++limit) {
        std::vector<Need> needs;
        for (const auto index : report::verdicts_of(dossier, limit))
            if (auto found = conformity::improvement(dossier.evaluation, dossier.verdicts.verdicts[index]))
                needs.push_back({index, std::move(*found)});
        if (needs.empty())
            continue;
        const auto by_whole = [](const Need& need) { return need.improvement.whole; };
        if (!all)
            needs = {*std::ranges::min_element(needs, {}, by_whole)};
        for (const auto& need : needs)
            text += text_of(dossier, need);
    }
    if (text.empty())
        return "no limit needs less uncertainty: none is kept from passing by its guard band alone\n\n";
    return text + "factors keep the value, the coverage factor and all other inputs as they are\n\n";
}

}  // namespace luxdossier::cli
