#include "cli/stages.hpp"

#include "report/verdict_phrases.hpp"
#include "report/words.hpp"

#include <string>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

std::string text_of(const model::Dossier& dossier, const model::Verdict& verdict)
{
    const auto& need = *verdict.improvement;
    auto text =
        fmt::format("{}, {}: {}, passes with U at most {:.3f} times what it is\n",
                    dossier.limits->limits[verdict.limit].id, report::verdict_subject(dossier, verdict),
                    model::outcome_text(verdict.outcome), need.whole);
    bool is_any = false;
    for (const auto& one : need.inputs) {
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
        if (all) {
            for (const auto index : report::verdicts_of(dossier, limit))
                if (const auto& verdict = dossier.verdicts.verdicts[index]; verdict.improvement)
                    text += text_of(dossier, verdict);
        } else if (const auto neediest = report::neediest_verdict(dossier, limit)) {
            text += text_of(dossier, dossier.verdicts.verdicts[*neediest]);
        }
    }
    if (text.empty())
        return "no limit needs less uncertainty: none is kept from passing by its guard band alone\n\n";
    return text + "factors keep the value, the coverage factor and all other inputs as they are\n\n";
}

}  // namespace luxdossier::cli
