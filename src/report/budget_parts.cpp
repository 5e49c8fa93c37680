#include "model/numerals.hpp"
#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"
#include "uncertainty/formula.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

constexpr std::size_t budgets_per_family = 4;
constexpr std::size_t lines_per_budget = 12;
constexpr double least_share = 0.01;
constexpr int formula_depth = 1;
constexpr std::size_t longest_formula = 400;  // bytes; longer ones stand in the workbook only

// A result whose budget is printed, with the verdict that made it the worst of its kind.
struct Choice {
    std::size_t result = 0;
    double margin = std::numeric_limits<double>::infinity();
    int severity = -1;
    std::string limit;
};

std::string kind_of(const model::Result& result)
{
    std::string kind = result.metric;
    for (const auto* name : {"configuration", "source", "line", "relative_to"}) {
        const auto found = result.conditions.find(name);
        kind += "/" + (found == result.conditions.end() ? "" : model::condition_text(found->second));
    }
    return kind;
}

bool has_budget(const model::Result& result)
{
    return result.node && result.combined && result.combined->standard_uncertainty > 0;
}

std::vector<Choice> judged_choices(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    std::map<std::string, Choice> worst;
    for (const auto& verdict : dossier.verdicts.verdicts) {
        if (!verdict.result || !std::ranges::binary_search(results, *verdict.result))
            continue;
        const auto& result = dossier.evaluation.results[*verdict.result];
        if (!has_budget(result))
            continue;
        Choice choice{*verdict.result,
                      relative_margin(verdict).value_or(std::numeric_limits<double>::infinity()),
                      static_cast<int>(verdict.outcome), dossier.limits->limits.at(verdict.limit).id};
        const auto [entry, added] = worst.try_emplace(kind_of(result), choice);
        if (!added && std::pair(-choice.severity, choice.margin) <
                          std::pair(-entry->second.severity, entry->second.margin))
            entry->second = choice;
    }
    std::vector<Choice> choices;
    for (const auto& [kind, choice] : worst)
        choices.push_back(choice);
    return choices;
}

// Without limits: of each kind of the first metric that has budgets, the result with the greatest relative
// uncertainty.
std::vector<Choice> measured_choices(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    std::map<std::string, Choice> widest;
    std::string metric;
    for (const auto index : results) {
        const auto& result = dossier.evaluation.results[index];
        if (!has_budget(result) || (!metric.empty() && result.metric != metric))
            continue;
        metric = result.metric;
        Choice choice{index,
                      -result.combined->expanded_uncertainty /
                          std::max(1e-300, std::abs(result.value.value_or(0))),
                      -1,
                      {}};
        const auto [entry, added] = widest.try_emplace(kind_of(result), choice);
        if (!added && choice.margin < entry->second.margin)
            entry->second = choice;
    }
    std::vector<Choice> choices;
    for (const auto& [kind, choice] : widest)
        choices.push_back(choice);
    return choices;
}

std::vector<ColumnSpec> heads(const model::Result& result)
{
    const std::string unit = unit_text(result.unit);
    Text contribution{{"|c", Style::italic}, {"i", Style::subscript}, {"| u", Style::italic}};
    if (!unit.empty())
        append(contribution, plain(" / " + unit));
    return {column("Quantity", Alignment::left, 2),
            column("Symbol"),
            column("Estimate", Alignment::right),
            ColumnSpec{{{"u", Style::italic},
                        {"(", Style::plain},
                        {"x", Style::italic},
                        {"i", Style::subscript},
                        {")", Style::plain}},
                       Alignment::right,
                       1},
            column("Distribution"),
            ColumnSpec{styled("ν", Style::italic), Alignment::right, 1},
            ColumnSpec{{{"c", Style::italic}, {"i", Style::subscript}}, Alignment::right, 1},
            ColumnSpec{std::move(contribution), Alignment::decimal, 1},
            column("Share / %", Alignment::decimal)};
}

Row budget_row(const uncertainty::InputQuantity& input, const std::string& name, std::string_view symbol,
               const uncertainty::BudgetLine& line, int decimals)
{
    const auto rounded = rounded_result(input.estimate, input.standard_uncertainty);
    Row row;
    row.cells = {cell(name),
                 cell(symbol_text(symbol)),
                 cell(with_unit(rounded.value, input.unit)),
                 cell(input.standard_uncertainty > 0 ? significant_text(input.standard_uncertainty, 2) : "0"),
                 cell(fmt::format("{}, {}", uncertainty::distribution_text(input.distribution),
                                  input.evaluation == uncertainty::Evaluation::type_a ? "A" : "B")),
                 cell(degrees_of_freedom_text(input.degrees_of_freedom)),
                 cell(significant_text(line.sensitivity, 3)),
                 cell(number_text(line.contribution, decimals)),
                 cell(number_text(line.share * 100, 1))};
    return row;
}

using Symbols = std::map<uncertainty::Input, std::string>;

// `symbols`: of inputs that the formula below numbers.
Table budget_table(const model::Dossier& dossier, const Choice& choice, const Symbols& symbols)
{
    const auto& result = dossier.evaluation.results.at(choice.result);
    const auto budget = dossier.evaluation.budget(result);
    Table table;
    std::string caption = fmt::format("Budget of {}", uncapitalised(metric_title(dossier, result.metric)));
    if (const auto conditions = conditions_phrase(result); !conditions.empty())
        caption += ", " + conditions;
    if (!choice.limit.empty())
        caption += fmt::format(" (worst against {})", choice.limit);
    table.caption = plain(caption);
    table.columns = heads(result);
    const double u = budget.combined.standard_uncertainty;
    const int decimals = u > 0 ? decimals_of_uncertainty(u) + 1 : 3;
    double rest = 0;
    std::size_t left_out = 0;
    const auto names = quantity_names(dossier, budget.lines);
    for (std::size_t i = 0; i < budget.lines.size(); ++i) {
        const auto& line = budget.lines[i];
        if (table.rows.size() >= lines_per_budget || std::abs(line.share) < least_share) {
            rest += line.share;
            ++left_out;
            continue;
        }
        const auto& input = dossier.evaluation.graph.inputs()[line.input.index];
        const auto apart = symbols.find(line.input);
        table.rows.push_back(budget_row(
            input, names[i], apart == symbols.end() ? input.symbol : apart->second, line, decimals));
    }
    if (left_out > 0) {
        Row row;
        row.cells.push_back(
            cell(styled(counted(left_out, "further quantity", "further quantities"), Style::grey)));
        for (int i = 0; i < 7; ++i)
            row.cells.push_back(cell(""));
        row.cells.push_back(cell(number_text(rest * 100, 1)));
        table.rows.push_back(std::move(row));
    }
    return table;
}

std::string first_order_text(const model::Result& result)
{
    const auto rounded = rounded_result(*result.value, result.combined->expanded_uncertainty);
    return fmt::format("{}{} ± {}", result.upper_bound ? "≤ " : "", with_unit(rounded.value, result.unit),
                       with_unit(rounded.uncertainty, result.unit));
}

// JCGM 101:2008, clause 8: what the trials say of the interval above.
std::string validation_sentence(const model::Result& result)
{
    const auto& found = *result.monte_carlo;
    const std::string trials = number_text(static_cast<double>(found.trials), 0);
    if (found.validation->validated)
        return fmt::format("{} trials of the Monte Carlo method validate it.", trials);
    if (!found.interval)
        return fmt::format("{} trials of the Monte Carlo method do not validate it, and show no interval.",
                           trials);
    const int decimals =
        decimals_of_uncertainty(result.reach().value_or(model::Result::Reach{}).half_length());
    return fmt::format(
        "{} trials of the Monte Carlo method do not validate it: the interval from {} to {} is "
        "reported and judged in its place.",
        trials, number_text(found.interval->lower, decimals),
        with_unit(number_text(found.interval->upper, decimals), result.unit));
}

Paragraph budget_sentence(const model::Dossier& dossier, const model::Result& result)
{
    const auto& combined = *result.combined;
    const std::string u = with_unit(significant_text(combined.standard_uncertainty, 3), result.unit);
    Text text = styled("u", Style::italic);
    append(text, plain(fmt::format(" = {}, ", u)));
    append(text, {{"ν", Style::italic}, {"eff", Style::subscript}});
    const std::string freedom = degrees_of_freedom_text(combined.degrees_of_freedom);
    append(text, plain(fmt::format("{}{}, ", freedom.starts_with('>') ? " " : " = ", freedom)));
    append(text, styled("k", Style::italic));
    append(text, plain(fmt::format(" = {} at {}: {} = {}.", number_text(combined.coverage_factor, 2),
                                   percent_text(combined.coverage_probability, 2),
                                   metric_title(dossier, result.metric), first_order_text(result))));
    if (result.monte_carlo && result.monte_carlo->validation)
        append(text, plain(" " + validation_sentence(result)));
    return Paragraph{std::move(text)};
}

// The first two of three quantities or more, side by side.
void add_shares(Blocks& blocks, const model::Dossier& dossier, const std::vector<Choice>& choices)
{
    constexpr std::size_t most = 2;
    std::vector<model::Figure> figures;
    for (const auto& choice : choices) {
        auto figure = budget_shares(dossier, choice.result);
        if (figure.bars.size() > 2 && figures.size() < most)
            figures.push_back(std::move(figure));
    }
    for (auto& figure : figures) {
        figure.half_width = figures.size() > 1;
        blocks.push_back(OwnFigure{std::move(figure)});
    }
}

std::vector<std::string> segments_of(const std::string& identity)
{
    std::vector<std::string> segments;
    for (std::size_t at = 0; at <= identity.size();) {
        const auto end = std::min(identity.find('/', at), identity.size());
        segments.push_back(identity.substr(at, end - at));
        at = end + 1;
    }
    return segments;
}

// "run:led-bare" as "run led-bare", "level=3000lx" as "level 3000 lx".
std::string segment_text(std::string segment)
{
    const auto sign = segment.find_first_of(":=");
    if (sign == std::string::npos)
        return segment;
    segment[sign] = ' ';
    double value = 0;
    const char* const begin = segment.data() + sign + 1;
    const char* const last = segment.data() + segment.size();
    const auto [end, error] = std::from_chars(begin, last, value);
    if (error != std::errc{} || end == last ||
        !std::all_of(end, last, [](char c) { return c >= 'a' && c <= 'z'; }))
        return segment;
    const std::string unit(end, last);
    return segment.substr(0, sign + 1) + with_unit(model::grouped_digits(std::string(begin, end)), unit);
}

std::string configuration_of(const model::Dossier& dossier, const std::string& segment)
{
    for (const auto& run : dossier.qualification.runs)
        if (segment == "run:" + run.id)
            return run.configuration;
    return {};
}

// What tells identities of one name apart, one text each; none where one segment does not.
std::vector<std::string> told_apart(const model::Dossier& dossier, const std::vector<std::string>& identities)
{
    std::vector<std::vector<std::string>> all;
    std::size_t shortest = std::numeric_limits<std::size_t>::max();
    for (const auto& identity : identities) {
        all.push_back(segments_of(identity));
        shortest = std::min(shortest, all.back().size());
    }
    for (std::size_t s = 0; s < shortest; ++s) {
        std::vector<std::string> texts, configurations;
        for (const auto& segments : all) {
            texts.push_back(segment_text(segments[s]));
            configurations.push_back(configuration_of(dossier, segments[s]));
        }
        for (const auto* words : {&configurations, &texts})
            if (std::set(words->begin(), words->end()).size() == words->size() && !words->front().empty())
                return *words;
    }
    return {};
}

}  // namespace

std::vector<std::string> quantity_names(const model::Dossier& dossier,
                                        const std::vector<uncertainty::BudgetLine>& lines)
{
    std::vector<std::string> names;
    std::map<std::string, std::vector<std::size_t>> by_name;
    const auto& inputs = dossier.evaluation.graph.inputs();
    for (std::size_t i = 0; i < lines.size(); ++i) {
        names.push_back(inputs[lines[i].input.index].quantity);
        by_name[names.back()].push_back(i);
    }
    for (const auto& [name, members] : by_name) {
        if (members.size() < 2)
            continue;
        std::vector<std::string> identities;
        for (const auto member : members)
            identities.push_back(inputs[lines[member].input.index].identity);
        const auto apart = told_apart(dossier, identities);
        for (std::size_t m = 0; m < apart.size(); ++m)
            names[members[m]] += ", " + apart[m];
    }
    return names;
}

Blocks budgets(const model::Dossier& dossier, const model::FamilyInfo& family)
{
    const auto results = results_of(dossier, family);
    auto choices = judged_choices(dossier, results);
    if (choices.empty())
        choices = measured_choices(dossier, results);
    if (choices.empty())
        return {};
    std::ranges::stable_sort(choices, {},
                             [](const Choice& choice) { return std::pair(-choice.severity, choice.margin); });
    if (choices.size() > budgets_per_family)
        choices.resize(budgets_per_family);
    const auto total = static_cast<std::size_t>(std::ranges::count_if(
        results, [&](std::size_t index) { return has_budget(dossier.evaluation.results[index]); }));
    Blocks blocks;
    if (total > choices.size())
        blocks.push_back(Paragraph{plain(fmt::format(
            "Every budget stands in the workbook and in the record; here {} of {}, for each kind, "
            "configuration and source the result that stands worst{}; shares below 1\u202f% are "
            "summed:",
            counted(choices.size(), "budget"), number_text(static_cast<double>(total), 0),
            choices.front().limit.empty() ? " in relative uncertainty" : " against its limit"))});
    for (const auto& choice : choices) {
        const auto& result = dossier.evaluation.results.at(choice.result);
        const auto& graph = dossier.evaluation.graph;
        const auto formula = uncertainty::printed_formula(graph, *result.node, formula_depth);
        // An input that is the result itself has no formula to show.
        const bool is_shown = formula.find('=') != std::string::npos && formula.size() <= longest_formula;
        blocks.push_back(budget_table(
            dossier, choice,
            is_shown ? uncertainty::symbols_apart(graph, *result.node, formula_depth) : Symbols{}));
        blocks.push_back(budget_sentence(dossier, result));
        if (is_shown)
            blocks.push_back(Formula{formula_text(formula)});
        if (&choice == &choices.front())
            add_shares(blocks, dossier, choices);
    }
    return blocks;
}

}  // namespace luxdossier::report
