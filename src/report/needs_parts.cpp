#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

constexpr std::size_t most_inputs = 3;

// A factor that is asked for is never rounded to one that would not do.
std::string factor_text(double factor)
{
    constexpr double places = 100;
    return number_text(std::floor(factor * places) / places, 2);
}

// "certificate of M1, common part: 0.62 u; placement: 0.31 u", the input that has to give least first; where
// none can do it, what the largest have of the variance.
Text inputs_text(const uncertainty::Graph& graph, const model::Improvement& need)
{
    std::vector<model::Improvement::OfInput> able;
    std::ranges::copy_if(need.inputs, std::back_inserter(able),
                         [](const auto& input) { return input.factor.has_value(); });
    std::ranges::stable_sort(able, std::greater{}, [](const auto& input) { return *input.factor; });
    Text text;
    if (able.empty())
        append(text, plain("none; largest in the variance: "));
    const auto& told = able.empty() ? need.inputs : able;
    for (std::size_t i = 0; i < std::min(most_inputs, told.size()); ++i) {
        if (i > 0)
            append(text, plain("; "));
        append(text, plain(graph.inputs()[told[i].input.index].quantity + " "));
        append(text,
               plain(able.empty() ? percent_text(told[i].share, 0) : "× " + factor_text(*told[i].factor)));
    }
    return text;
}

Row need_row(const model::Dossier& dossier, const model::Verdict& verdict)
{
    const auto& need = *verdict.improvement;
    const auto& limit = dossier.limits->limits.at(verdict.limit);
    Cell name = cell(limit.id), outcome = cell(model::outcome_text(verdict.outcome));
    name.link = anchor_of("limit", limit.id);
    outcome.outcome = verdict.outcome;
    Row row;
    row.cells = {
        std::move(name),
        cell(fmt::format("{}, {}: {}", metric_title(dossier, limit.metric), verdict_subject(dossier, verdict),
                         held_together(verdict_value_text(verdict)))),
        std::move(outcome), cell(factor_text(need.whole)), cell(inputs_text(dossier.evaluation.graph, need))};
    return row;
}

}  // namespace

Blocks needs(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("What would have to improve");
    table.columns = {column("Limit"), column("Result that needs most", Alignment::left, 2), column("Outcome"),
                     column("Factor on U", Alignment::decimal),
                     column("One input alone, factor on its u", Alignment::left, 3)};
    for (std::size_t limit = 0; dossier.limits && limit < dossier.limits->limits.size(); ++limit)
        if (const auto index = neediest_verdict(dossier, limit))
            table.rows.push_back(need_row(dossier, dossier.verdicts.verdicts[*index]));
    if (table.rows.empty())
        return {};
    Text text =
        plain("These values lie within their tolerance and only their guard band reaches beyond it: a "
              "smaller expanded uncertainty ");
    append(text, styled("U", Style::italic));
    append(text,
           plain(" would let them pass. Given is the factor that does it, with value and coverage factor "
                 "as they are, and the factor on the standard uncertainty "));
    append(text, styled("u", Style::italic));
    append(text, plain(" of one input that does it while all others stay as they are. A value outside its "
                       "tolerance is not helped by less uncertainty."));
    return {Paragraph{std::move(text)}, std::move(table)};
}

}  // namespace luxdossier::report
