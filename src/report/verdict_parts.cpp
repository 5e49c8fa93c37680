#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/reason_marks.hpp"
#include "report/symbols.hpp"
#include "report/together.hpp"
#include "report/verdict_phrases.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <array>
#include <iterator>
#include <limits>
#include <map>
#include <set>
#include <string_view>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

Cell outcome_cell(model::Outcome outcome)
{
    Cell result = cell(model::outcome_text(outcome));
    result.outcome = outcome;
    return result;
}

Cell strip_cell(const model::Verdict& verdict)
{
    Cell result;
    if (verdict.tolerance_lower || verdict.tolerance_upper)
        result.strip = strip_of(verdict);
    return result;
}

Cell limit_cell(const model::Limit& limit)
{
    Cell result = cell(limit.id);
    result.link = anchor_of("limit", limit.id);
    return result;
}

std::string counts_text(const model::Dossier& dossier, const std::vector<std::size_t>& verdicts)
{
    std::map<model::Outcome, std::size_t> counts;
    for (const auto index : verdicts)
        ++counts[dossier.verdicts.verdicts[index].outcome];
    std::vector<std::string> parts;
    for (const auto& [outcome, count] : counts)
        parts.push_back(
            fmt::format("{} {}", number_text(static_cast<double>(count), 0), model::outcome_text(outcome)));
    return parts.size() == 1 ? "all " + parts.front()
                             : fmt::format("of {}: {}", verdicts.size(), fmt::join(parts, ", "));
}

void add_trials_note(const model::Dossier& dossier, Table& table)
{
    if (std::ranges::any_of(dossier.verdicts.verdicts,
                            [](const auto& verdict) { return !verdict.by_trials.empty(); }))
        table.notes.push_back(trials_note());
}

/// Reasons that several limits give are said once, below the table.
class RepeatedReasons {
public:
    void count(const std::string& reason)
    {
        if (!reason.empty())
            ++counts_[words_without_figures(reason)];
    }
    /// Nothing, or how the reason stands in a cell.
    Text shown(const std::string& reason)
    {
        if (reason.empty())
            return {};
        constexpr std::size_t too_often = 3;
        const auto found = counts_.find(words_without_figures(reason));
        if (found == counts_.end() || found->second < too_often)
            return plain(fmt::format(" ({})", reason));
        return styled(marks_.mark_of(reason), Style::superscript);
    }
    [[nodiscard]] std::vector<Text> notes() const { return marks_.notes(); }

private:
    std::map<std::string, std::size_t> counts_;
    ReasonMarks marks_;
};

Text worst_text(const model::Dossier& dossier, const model::Verdict& verdict, RepeatedReasons& reasons)
{
    if (!verdict.result && !verdict.reason.empty())
        return plain(verdict.reason);
    const auto shared = shared_bench_conditions(dossier, dossier.limits->limits.at(verdict.limit),
                                                verdicts_of(dossier, verdict.limit));
    std::string text = subject_within(dossier, verdict, shared.names);
    if (verdict.value)
        text += ": " + held_together(verdict_value_text(verdict));
    Text all = plain(text);
    append(all, trials_mark_of(verdict));
    append(all, reasons.shown(verdict.reason));
    return all;
}

// Heads the row of a limit: "L-01  Reading error, bare (specification, 4.1 a)".
Row limit_heading(const model::Dossier& dossier, const model::Limit& limit)
{
    Text text = styled(limit.id + "\u2002", Style::semibold);
    const std::string title = limit.title.empty() ? metric_title(dossier, limit.metric) : limit.title;
    append(text, styled(title, Style::semibold));
    if (!limit.reference.empty())
        append(text, styled(fmt::format(" ({})", limit.reference), Style::grey));
    Row row;
    row.spanning = true;
    row.cells.push_back(cell(std::move(text)));
    row.cells.back().link = anchor_of("limit", limit.id);
    return row;
}

// "2.5 ± 0.1 %" in one piece.
std::string unbroken(std::string text)
{
    for (auto at = text.find(' '); at != std::string::npos; at = text.find(' ', at))
        text.replace(at, 1, "\u00a0");
    return text;
}

Row clause_row(const model::Dossier& dossier, std::size_t index, RepeatedReasons& reasons)
{
    const auto& limit = dossier.limits->limits.at(index);
    const auto verdicts = verdicts_of(dossier, index);
    Row row;
    row.cells.push_back(cell(limit.not_assessed
                                 ? *limit.not_assessed
                                 : fmt::format("{}: {}", selection_text(limit), requirement_text(limit))));
    const auto worst = worst_verdict(dossier, verdicts);
    if (!worst) {
        row.cells.back().columns = 4;
        row.cells.resize(4);
        row.cells.push_back(cell("not assessed"));
        return row;
    }
    const auto& verdict = dossier.verdicts.verdicts.at(*worst);
    Text text = worst_text(dossier, verdict, reasons);
    if (verdicts.size() > 1)
        append(text, styled("; " + counts_text(dossier, verdicts), Style::grey));
    row.cells.push_back(cell(std::move(text)));
    row.cells.push_back(strip_cell(verdict));
    row.cells.push_back(cell(margin_text(verdict)));
    row.cells.push_back(outcome_cell(dossier.verdicts.by_limit.at(index).value_or(verdict.outcome)));
    return row;
}

// Limits in the order of their clauses: those of one clause together, in the order of the file.
std::vector<std::size_t> by_clause(const model::Limits& limits)
{
    std::vector<std::size_t> order;
    std::vector<std::string> seen;
    for (const auto& limit : limits.limits) {
        if (std::ranges::find(seen, limit.clause) != seen.end())
            continue;
        seen.push_back(limit.clause);
        for (std::size_t i = 0; i < limits.limits.size(); ++i) {
            if (limits.limits[i].clause == limit.clause)
                order.push_back(i);
        }
    }
    return order;
}

/// Does the limit itself name the one value of this condition, or the one sample?
bool is_named(const model::Limit& limit, std::string_view name)
{
    return std::ranges::any_of(limit.where, [&](const auto& selector) {
        return selector.name == name &&
               (selector.ids.size() == 1 || (selector.from && selector.from == selector.to));
    });
}

/// The sample of all these verdicts; empty where they are of several, of none, or of one result alone.
std::string only_sample(const model::Dossier& dossier, const std::vector<std::size_t>& verdicts)
{
    std::set<std::string> samples;
    for (const auto index : verdicts)
        if (const auto result = dossier.verdicts.verdicts[index].result)
            samples.insert(dossier.evaluation.results[*result].sample);
    return verdicts.size() > 1 && samples.size() == 1 ? *samples.begin() : std::string();
}

bool has_limits(const model::Dossier& dossier)
{
    return dossier.limits && !dossier.limits->limits.empty();
}

}  // namespace

Text limit_text(const model::Dossier& dossier, const model::Limit& limit)
{
    if (limit.not_assessed)
        return plain(fmt::format("{}{}not assessed: {}", limit.title, limit.title.empty() ? "" : "; ",
                                 *limit.not_assessed));
    Text text =
        styled(limit.title.empty() ? metric_title(dossier, limit.metric) : limit.title, Style::semibold);
    append(text, plain(fmt::format(", {}: {}", selection_text(limit), requirement_text(limit))));
    if (!limit.reference.empty())
        append(text, styled(fmt::format(" ({})", limit.reference), Style::grey));
    return text;
}

SharedConditions shared_conditions(const model::Dossier& dossier, const model::Limit& limit,
                                   const std::vector<std::size_t>& verdicts)
{
    SharedConditions shared;
    std::map<std::string, std::pair<model::ConditionValue, std::size_t>> seen;
    std::size_t results = 0;
    const model::Result* first = nullptr;
    for (const auto index : verdicts) {
        const auto& verdict = dossier.verdicts.verdicts[index];
        if (!verdict.result)
            continue;
        ++results;
        const auto& result = dossier.evaluation.results[*verdict.result];
        first = first == nullptr ? &result : first;
        for (const auto& [name, value] : result.conditions) {
            auto& entry = seen.try_emplace(name, value, 0).first->second;
            entry.second += entry.first == value ? 1U : 0U;
        }
    }
    if (results < 2)
        return shared;
    for (const auto& [name, entry] : seen) {
        if (entry.second != results || name == "level")
            continue;
        shared.names.push_back(name);
        if (!is_named(limit, name) && !is_secondary(name, entry.first, first->conditions))
            shared.said += fmt::format("; all {}", condition_phrase(name, entry.first));
    }
    return shared;
}

SharedConditions shared_bench_conditions(const model::Dossier& dossier, const model::Limit& limit,
                                         const std::vector<std::size_t>& verdicts)
{
    constexpr std::array<std::string_view, 11> of_the_measurand{
        "configuration", "source", "other_source", "level",       "plane", "angle",
        "side",          "line",   "crossing",     "relative_to", "light"};
    SharedConditions shared;
    const auto all = shared_conditions(dossier, limit, verdicts);
    for (const auto& name : all.names) {
        if (std::ranges::find(of_the_measurand, name) != of_the_measurand.end())
            continue;
        const auto first = std::ranges::find_if(
            verdicts, [&](std::size_t index) { return dossier.verdicts.verdicts[index].result.has_value(); });
        const auto& conditions =
            dossier.evaluation.results.at(*dossier.verdicts.verdicts[*first].result).conditions;
        shared.names.push_back(name);
        if (!is_secondary(name, conditions.at(name), conditions))
            shared.said += (shared.said.empty() ? "" : ", ") + condition_phrase(name, conditions.at(name));
    }
    return shared;
}

std::string subject_within(const model::Dossier& dossier, const model::Verdict& verdict,
                           const std::vector<std::string>& shared)
{
    if (!verdict.result)
        return verdict.reason.empty() ? verdict_subject(dossier, verdict) : verdict.reason;
    const std::string phrase = conditions_phrase(dossier.evaluation.results.at(*verdict.result), shared);
    return phrase.empty() ? verdict_subject(dossier, verdict) : phrase;
}

Blocks verdict_summary(const model::Dossier& dossier)
{
    if (!has_limits(dossier))
        return {};
    return {
        Paragraph{plain("One entry a limit, for the result that stands worst against it. In each strip the "
                        "box is the tolerance zone, the "
                        "hatched part of it the guard band, the dot the result and the line through it "
                        "its expanded uncertainty; all strips are "
                        "scaled to their tolerance, so that margins compare down the page. A result "
                        "beyond the strip ends in an arrow. The "
                        "margin is the distance to the nearer acceptance limit, negative outside.")}};
}

Blocks verdicts_by_clause(const model::Dossier& dossier)
{
    if (!has_limits(dossier))
        return {};
    Table table;
    table.caption = plain("Verdicts by clause");
    table.anchor = "table-verdicts";
    table.columns = {column("Requirement", Alignment::left, 2), column("Worst result", Alignment::left, 2),
                     column("Tolerance, result"), column("Margin", Alignment::right), column("Outcome")};
    const auto& limits = *dossier.limits;
    RepeatedReasons reasons;
    for (std::size_t i = 0; i < limits.limits.size(); ++i)
        if (const auto worst = worst_verdict(dossier, verdicts_of(dossier, i)))
            reasons.count(dossier.verdicts.verdicts.at(*worst).reason);
    std::string clause;
    for (const auto index : by_clause(limits)) {
        const auto& limit = limits.limits[index];
        if (!limit.clause.empty() && limit.clause != clause) {
            clause = limit.clause;
            Row heading;
            heading.group_start = true;
            heading.cells.push_back(cell(styled("Clause " + clause, Style::semibold)));
            heading.spanning = true;
            table.rows.push_back(std::move(heading));
        }
        table.rows.push_back(limit_heading(dossier, limit));
        table.rows.push_back(clause_row(dossier, index, reasons));
    }
    std::ranges::move(reasons.notes(), std::back_inserter(table.notes));
    add_trials_note(dossier, table);
    return {std::move(table)};
}

Blocks every_verdict(const model::Dossier& dossier)
{
    if (!has_limits(dossier))
        return {};
    Table table;
    table.caption = plain("Every verdict");
    table.columns = {
        column("Result", Alignment::left, 2),
        column("Value ± U"),
        column("Strip"),
        column("Margin", Alignment::right),
        ColumnSpec{{{"p", Style::italic}, {"c", Style::subscript}, {"\u00a0/\u00a0%", Style::plain}},
                   Alignment::right,
                   1},
        column("Outcome")};
    Blocks matrices;
    for (std::size_t i = 0; i < dossier.limits->limits.size(); ++i) {
        const auto& limit = dossier.limits->limits[i];
        if (auto matrix = verdict_matrix(dossier, i); !matrix.empty()) {
            std::ranges::move(matrix, std::back_inserter(matrices));
            continue;
        }
        Row heading;
        heading.group_start = true;
        heading.spanning = true;
        Text text = styled(limit.id + "\u2002", Style::semibold);
        append(text, limit_text(dossier, limit));
        const auto indices = verdicts_of(dossier, i);
        auto shared = shared_conditions(dossier, limit, indices);
        if (const auto sample = only_sample(dossier, indices); !sample.empty()) {
            shared.names.emplace_back("sample");
            if (!is_named(limit, "sample"))
                shared.said += "; all " + sample;
        }
        append(text, plain(shared.said));
        // One reason for all that is not decided is said in the heading.
        std::vector<std::string> reasons;
        for (const auto index : indices) {
            const auto& verdict = dossier.verdicts.verdicts[index];
            if (verdict.result && !verdict.reason.empty())
                reasons.push_back(verdict.reason);
        }
        const auto told = told_together(reasons);
        const bool reason_in_heading = told.size() == 1 && reasons.size() == indices.size();
        if (reason_in_heading)
            append(text, plain("; " + told.front().text));
        heading.cells.push_back(cell(std::move(text)));
        heading.anchor = anchor_of("limit", limit.id);
        table.rows.push_back(std::move(heading));
        for (const auto index : indices) {
            const auto& verdict = dossier.verdicts.verdicts[index];
            Text subject = plain(subject_within(dossier, verdict, shared.names));
            if (verdict.result && !verdict.reason.empty() && !reason_in_heading)
                append(subject, styled(fmt::format(" ({})", verdict.reason), Style::grey));
            if (limit.plus_minus || limit.mask)
                append(subject, plain(" (" + verdict_tolerance_text(verdict) + ")"));
            Text value = plain(verdict.value ? unbroken(verdict_value_text(verdict)) : "");
            append(value, trials_mark_of(verdict));
            Row row;
            row.cells = {cell(std::move(subject)),
                         cell(std::move(value)),
                         strip_cell(verdict),
                         cell(margin_text(verdict)),
                         cell(verdict.conformance_probability
                                  ? probability_percent(*verdict.conformance_probability)
                                  : ""),
                         outcome_cell(verdict.outcome)};
            table.rows.push_back(std::move(row));
        }
    }
    Text note{{"p", Style::italic}, {"c", Style::subscript}};
    append(
        note,
        plain(
            ": conformance probability, that the measurand lies inside the tolerance limits given the result "
            "and its uncertainty (JCGM 106:2012). Results were judged unrounded."));
    table.notes.push_back(std::move(note));
    add_trials_note(dossier, table);
    Blocks blocks;
    if (!matrices.empty() && !table.rows.empty())
        blocks.push_back(Heading{3, plain("Verdicts one by one"), {}});
    if (!table.rows.empty())
        blocks.push_back(std::move(table));
    if (matrices.empty())
        return blocks;
    blocks.push_back(Heading{3, plain("Limits that every result passes"), {}});
    blocks.push_back(Paragraph{plain(
        "Given are value ± U and, in brackets, the margin to the nearer acceptance limit. Each of these "
        "results "
        "passes; its conformance probability is above 99.9\u202f% or stated behind the margin. Results were "
        "judged unrounded.")});
    std::ranges::move(matrices, std::back_inserter(blocks));
    return blocks;
}

Blocks decision_rules(const model::Dossier& dossier)
{
    if (!has_limits(dossier))
        return {};
    const auto& limits = *dossier.limits;
    std::vector<Text> items;
    Text whole = styled(limits.title.empty() ? "All limits: " : "Rule of the limits file: ", Style::semibold);
    append(whole, plain(rule_sentence(limits.rule, dossier.evaluation.coverage_probability) + "."));
    items.push_back(std::move(whole));
    for (const auto& limit : limits.limits) {
        if (!limit.rule)
            continue;
        Text own = styled(limit.id + ": ", Style::semibold);
        append(own, plain(rule_sentence(*limit.rule, dossier.evaluation.coverage_probability) + "."));
        items.push_back(std::move(own));
    }
    return {
        Bullets{std::move(items)},
        Paragraph{
            plain("Rules in the words of ILAC-G8:09/2019; conformance probabilities as in JCGM 106:2012. The "
                  "overall outcome is the worst of all limits. A concession never changes an outcome."),
            true}};
}

std::optional<Table> worst_margins(const model::Dossier& dossier, std::size_t count)
{
    if (!has_limits(dossier))
        return std::nullopt;
    std::vector<std::size_t> worst;
    for (std::size_t i = 0; i < dossier.limits->limits.size(); ++i) {
        if (const auto verdict = worst_verdict(dossier, verdicts_of(dossier, i)))
            worst.push_back(*verdict);
    }
    if (worst.empty())
        return std::nullopt;
    const auto key = [&](std::size_t index) {
        const auto& verdict = dossier.verdicts.verdicts[index];
        return std::pair(relative_margin(verdict).value_or(std::numeric_limits<double>::infinity()),
                         -static_cast<int>(verdict.outcome));
    };
    std::ranges::stable_sort(worst, {}, key);
    Table table;
    table.caption = plain("Worst margins");
    table.columns = {column("Limit"), column("Worst result", Alignment::left, 2), column("Tolerance, result"),
                     column("Margin", Alignment::right), column("Outcome")};
    RepeatedReasons reasons;
    for (std::size_t i = 0; i < std::min(count, worst.size()); ++i) {
        const auto& verdict = dossier.verdicts.verdicts[worst[i]];
        const auto& limit = dossier.limits->limits.at(verdict.limit);
        Text text = plain(metric_title(dossier, limit.metric) + ", ");
        append(text, worst_text(dossier, verdict, reasons));
        Row row;
        row.cells = {limit_cell(limit), cell(std::move(text)), strip_cell(verdict),
                     cell(margin_text(verdict)), outcome_cell(verdict.outcome)};
        table.rows.push_back(std::move(row));
    }
    return table;
}

}  // namespace luxdossier::report
