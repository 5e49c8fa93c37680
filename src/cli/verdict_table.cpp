#include "cli/stages.hpp"
#include "cli/terminal.hpp"
#include "report/verdict_phrases.hpp"
#include "report/words.hpp"

#include <map>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

using Row = std::vector<std::string>;

const std::vector<bool> set_right{false, false, false, false, true, false, true, false};

Row heading()
{
    return {"limit", "clause", "metric", "conditions", "result", "tolerance", "margin", "outcome"};
}

Row row_of(const model::Dossier& dossier, std::size_t index, const std::vector<std::string>& shared,
           const std::string& counts)
{
    const auto& verdict = dossier.verdicts.verdicts[index];
    const auto& limit = dossier.limits->limits[verdict.limit];
    return {limit.id,
            limit.clause,
            limit.metric,
            report::subject_within(dossier, verdict, shared),
            verdict.value ? report::verdict_value_text(verdict) : "-",
            report::verdict_tolerance_text(verdict),
            report::margin_text(verdict),
            std::string(model::outcome_text(verdict.outcome)) + counts};
}

/// " (3 of 12)": how many verdicts are as bad as the worst; nothing for a single verdict.
std::string counts_text(const model::Dossier& dossier, const std::vector<std::size_t>& verdicts)
{
    if (verdicts.size() < 2)
        return {};
    std::size_t alike = 0;
    const auto worst = dossier.verdicts.by_limit[dossier.verdicts.verdicts[verdicts.front()].limit];
    for (const auto index : verdicts)
        alike += dossier.verdicts.verdicts[index].outcome == *worst ? 1U : 0U;
    return alike == verdicts.size() ? fmt::format(" (all {})", alike)
                                    : fmt::format(" ({} of {})", alike, verdicts.size());
}

void add_reason(const model::Dossier& dossier, std::size_t index, std::string& reasons)
{
    const auto& verdict = dossier.verdicts.verdicts[index];
    const auto reason = model::reason_text(verdict);
    if (reason.empty())
        return;
    reasons += fmt::format("{}, {}: {}\n", dossier.limits->limits[verdict.limit].id,
                           report::verdict_subject(dossier, verdict), reason);
}

/// Joint conformance probabilities, and why they are not the product of the single ones.
std::string joint_text(const model::Dossier& dossier)
{
    const auto& joint = dossier.verdicts.joint;
    if (joint.empty())
        return {};
    std::vector<Row> rows{
        {"all requirements hold", "requirements", "probability", "product of the single ones"}};
    for (std::size_t i = 0; i < joint.size(); ++i) {
        const auto& one = joint[i];
        const auto subject = i + 1 == joint.size() ? std::string("together")
                             : one.sample.empty()  ? std::string("without sample")
                                                   : "of " + one.sample;
        rows.push_back({subject, std::to_string(one.requirements), fmt::format("{:.4f}", one.probability),
                        fmt::format("{:.4f}", one.product)});
    }
    return aligned(rows, {false, true, true, true}) +
           fmt::format(
               "from {} common trials of at most {}; the product would hold if the results shared nothing: "
               "they share certificates, position factors and readings, so that they deviate together\n\n",
               joint.back().trials, dossier.evaluation.trials ? dossier.evaluation.trials->most : 0);
}

}  // namespace

std::string verdict_table(const model::Dossier& dossier, bool all)
{
    if (!dossier.limits)
        return overall_line(dossier) + "\n";
    std::vector<Row> rows{heading()};
    std::string reasons;
    std::map<std::string, std::vector<std::string>> limits_of_shared;  // said once below the table
    for (std::size_t i = 0; i < dossier.limits->limits.size(); ++i) {
        const auto& limit = dossier.limits->limits[i];
        if (limit.not_assessed) {
            rows.push_back(
                {limit.id, limit.clause, limit.metric, *limit.not_assessed, "", "", "", "not assessed"});
            continue;
        }
        const auto verdicts = report::verdicts_of(dossier, i);
        const auto shared = report::shared_bench_conditions(dossier, limit, verdicts);
        if (!shared.said.empty())
            limits_of_shared[shared.said].push_back(limit.id);
        if (!all) {
            const auto worst = report::worst_verdict(dossier, verdicts).value();
            rows.push_back(row_of(dossier, worst, shared.names, counts_text(dossier, verdicts)));
            add_reason(dossier, worst, reasons);
            continue;
        }
        for (const auto index : verdicts) {
            rows.push_back(row_of(dossier, index, shared.names, {}));
            add_reason(dossier, index, reasons);
        }
    }
    std::string text = aligned(rows, set_right) + "\n";
    for (const auto& [said, ids] : limits_of_shared)
        text += fmt::format("all results at {}: {}\n", said, fmt::join(ids, ", "));
    if (!limits_of_shared.empty())
        text += "\n";
    if (!reasons.empty())
        text += reasons + "\n";
    text += "decision rule: " +
            report::rule_sentence(dossier.limits->rule, dossier.evaluation.coverage_probability) + "\n";
    for (const auto& limit : dossier.limits->limits)
        if (limit.rule)
            text += fmt::format("  {}: {}\n", limit.id,
                                report::rule_sentence(*limit.rule, dossier.evaluation.coverage_probability));
    return text + "\n" + joint_text(dossier) + overall_line(dossier) + "\n";
}

}  // namespace luxdossier::cli
