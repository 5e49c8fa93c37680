#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/together.hpp"
#include "report/words.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

std::vector<std::size_t> verdicts_of_family(const model::Dossier& dossier, const model::FamilyInfo& family)
{
    std::vector<std::size_t> indices;
    if (!dossier.limits)
        return indices;
    for (std::size_t i = 0; i < dossier.verdicts.verdicts.size(); ++i) {
        const auto& metric = dossier.limits->limits.at(dossier.verdicts.verdicts[i].limit).metric;
        if (std::ranges::find(family.metrics, metric, &model::MetricInfo::id) != family.metrics.end())
            indices.push_back(i);
    }
    return indices;
}

// "Worst: reading error of unit-1, bare, led, 20 lx is 3.0 % ± 3.2 % against A2 (±4.5 %), margin −1.7 %:
// conditional pass."
std::string judged_answer(const model::Dossier& dossier, const std::vector<std::size_t>& verdicts)
{
    const auto& verdict = dossier.verdicts.verdicts.at(*worst_verdict(dossier, verdicts));
    const auto& limit = dossier.limits->limits.at(verdict.limit);
    std::string text = fmt::format("Worst: {} of {}", uncapitalised(metric_title(dossier, limit.metric)),
                                   verdict_subject(dossier, verdict));
    text += verdict.value ? fmt::format(" is {}", verdict_value_text(verdict)) : " has no value";
    const std::string tolerance = verdict_tolerance_text(verdict);
    text +=
        fmt::format(" against {} ({})", limit.id, tolerance.empty() ? requirement_text(limit) : tolerance);
    if (verdict.margin)
        text += fmt::format(", margin {}", margin_text(verdict));
    text += fmt::format(": {}.", model::outcome_text(verdict.outcome));
    const auto passes = static_cast<std::size_t>(std::ranges::count_if(verdicts, [&](std::size_t index) {
        return dossier.verdicts.verdicts[index].outcome == model::Outcome::pass;
    }));
    if (verdicts.size() > 1)
        text += fmt::format(" {} of {} pass.", passes, counted(verdicts.size(), "verdict"));
    return text;
}

// Without limits: the span of what was found, of the first metric that has values.
std::string measured_answer(const model::Dossier& dossier, const model::FamilyInfo& family)
{
    const auto& results = dossier.evaluation.results;
    for (const auto& metric : family.metrics) {
        std::vector<std::size_t> valued;
        for (std::size_t i = 0; i < results.size(); ++i) {
            if (results[i].metric == metric.id && results[i].value)
                valued.push_back(i);
        }
        if (valued.empty())
            continue;
        const auto [low, high] =
            std::ranges::minmax_element(valued, {}, [&](std::size_t i) { return *results[i].value; });
        const auto described = [&](std::size_t i) {
            const std::string conditions = conditions_phrase(results[i]);
            return fmt::format("{}{}", result_text(results[i]),
                               conditions.empty() ? "" : fmt::format(" ({})", conditions));
        };
        if (valued.size() == 1)
            return fmt::format("{}: {}.", metric_title(dossier, metric.id), described(*low));
        return fmt::format("{} lies between {} and {}.", metric_title(dossier, metric.id), described(*low),
                           described(*high));
    }
    return "No result has a value.";
}

Paragraph answer(const model::Dossier& dossier, const model::FamilyInfo& family)
{
    Paragraph paragraph;
    paragraph.lead = true;
    if (!family.question.empty())
        paragraph.text = styled(family.question + " ", Style::italic);
    const auto verdicts = verdicts_of_family(dossier, family);
    append(paragraph.text, styled(held_together(verdicts.empty() ? measured_answer(dossier, family)
                                                                 : judged_answer(dossier, verdicts)),
                                  Style::semibold));
    return paragraph;
}

// Reasons that differ only in their figures are one line; where all is for one reason, one sentence.
Blocks undecided(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    std::vector<std::string> reasons;
    for (const auto index : results) {
        // Figures in brackets differ from result to result.
        const auto& whole = dossier.evaluation.results[index].undecided;
        if (!whole.empty())
            reasons.push_back(whole.substr(0, whole.find(" (")));
    }
    if (reasons.empty())
        return {};
    const auto told = told_together(reasons);
    if (told.size() == 1)
        return {Paragraph{plain(
            fmt::format("Not decided, {}: {}.", counted(reasons.size(), "result"), told.front().text))}};
    std::vector<Text> items;
    for (const auto& one : told)
        items.push_back(plain(fmt::format("{}: {}", counted(one.members.size(), "result"), one.text)));
    return {Paragraph{plain("Not decided:")}, Bullets{std::move(items)}};
}

// What is stated of several runs or sources in the same words is said once.
Blocks statements(const model::Dossier& dossier, const model::FamilyInfo& family)
{
    std::vector<std::pair<std::string, std::vector<std::string>>> groups;
    Blocks blocks;
    for (const auto& statement : dossier.evaluation.statements) {
        if (statement.family != family.id)
            continue;
        if (statement.subject.empty()) {
            blocks.push_back(Paragraph{plain(statement.text)});
            continue;
        }
        const auto same = std::ranges::find(groups, statement.text, &decltype(groups)::value_type::first);
        auto& group =
            same == groups.end() ? groups.emplace_back(statement.text, std::vector<std::string>{}) : *same;
        group.second.push_back(statement.subject);
    }
    for (const auto& [text, subjects] : groups)
        blocks.push_back(
            Paragraph{plain(fmt::format("{}: {}.", capitalised(joined_subjects(subjects)), text))});
    return blocks;
}

}  // namespace

Blocks chapter(const model::Dossier& dossier, const model::FamilyInfo& family)
{
    const auto results = results_of(dossier, family);
    if (results.empty())
        return {};
    Blocks blocks{Heading{1, plain(family.title), anchor_of("chapter", family.id)}, answer(dossier, family)};
    if (!family.method.empty())
        blocks.push_back(Paragraph{prose_text(family.method)});
    for (const auto& formula : family.formulas)
        blocks.push_back(Formula{formula_text(formula)});
    std::ranges::move(statements(dossier, family), std::back_inserter(blocks));
    std::ranges::move(remarks_on(dossier, results), std::back_inserter(blocks));
    for (std::size_t i = 0; i < dossier.figures.size(); ++i) {
        if (dossier.figures[i].family == family.id)
            blocks.push_back(FigureBlock{i});
    }
    for (auto& block : undecided(dossier, results))
        blocks.push_back(std::move(block));
    Blocks tables = result_tables(dossier, family);
    if (!tables.empty()) {
        blocks.push_back(Heading{3, plain("Results"), {}});
        std::ranges::move(tables, std::back_inserter(blocks));
    }
    Blocks budget_blocks = budgets(dossier, family);
    if (!budget_blocks.empty()) {
        blocks.push_back(Heading{3, plain("Uncertainty budgets"), {}});
        std::ranges::move(budget_blocks, std::back_inserter(blocks));
    }
    return blocks;
}

}  // namespace luxdossier::report
