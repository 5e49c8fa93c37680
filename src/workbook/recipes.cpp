#include "workbook/recipes.hpp"

#include "uncertainty/coverage.hpp"
#include "workbook/log_window.hpp"
#include "workbook/plan_text.hpp"
#include "workbook/sheets.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::workbook {
namespace {

using model::Recipe;

/// Standard deviation of the readings of a set, as its cell gives it.
double own_deviation(const model::Dossier& dossier, std::size_t index)
{
    const auto& set = dossier.evaluation.sets.at(index);
    const auto* column = dossier.qualification.runs.at(set.run).table->number(set.column);
    double mean = 0, squares = 0;
    for (const auto row : set.rows)
        mean += column->values.at(row) / static_cast<double>(set.rows.size());
    for (const auto row : set.rows)
        squares += (column->values[row] - mean) * (column->values[row] - mean);
    return std::sqrt(squares / static_cast<double>(set.rows.size() - 1));
}

/// Cell and value of an operand; empty where the workbook has no such cell.
std::optional<Term> term_of(const model::Dossier& dossier, const CellMap& map, const Recipe::Operand& operand)
{
    const auto& evaluation = dossier.evaluation;
    const auto set = [&](std::uint16_t column, double value) {
        return Term{map.set_cell(operand.index, column), value};
    };
    switch (operand.of) {
    case Recipe::Of::set_mean:
        return set(column::set_mean, evaluation.sets.at(operand.index).mean);
    case Recipe::Of::set_deviation:
        if (evaluation.sets.at(operand.index).rows.size() < 2)
            return {};
        return set(column::set_own, own_deviation(dossier, operand.index));
    case Recipe::Of::set_size:
        return set(column::set_n, static_cast<double>(evaluation.sets.at(operand.index).n));
    case Recipe::Of::set_resolution:
        return set(column::set_resolution, evaluation.sets.at(operand.index).resolution.value());
    case Recipe::Of::node:
        return map.value(uncertainty::Node{static_cast<std::uint32_t>(operand.index)});
    case Recipe::Of::result:
        return Term{map.result_cell(operand.index, column::result_value),
                    evaluation.results.at(operand.index).value.value()};
    case Recipe::Of::sensitivity: {
        const auto* block = map.budget_of(operand.index);
        if (block == nullptr)
            return {};
        const auto line =
            std::ranges::find(block->budget.lines, operand.input, &uncertainty::BudgetLine::input);
        if (line == block->budget.lines.end())
            return Term{"0", 0};
        const auto row = block->line_row(static_cast<std::size_t>(line - block->budget.lines.begin()));
        return Term{reference("budgets", {row, column::budget_sensitivity}), line->sensitivity};
    }
    case Recipe::Of::input_uncertainty:
        return Term{map.uncertainty(operand.input),
                    evaluation.graph.inputs()[operand.input.index].standard_uncertainty};
    case Recipe::Of::normal_factor:
        return Term{absolute_reference("coverage", cells::normal_quantile),
                    uncertainty::coverage_factor(evaluation.coverage_probability, uncertainty::infinite)};
    case Recipe::Of::factor:
        return Term{map.factor_cell(operand.name), operand.value};
    }
    return {};
}

std::optional<Term> formula_of(const model::Dossier& dossier, const CellMap& map, const Recipe& recipe,
                               double expected)
{
    std::vector<std::string> texts;
    std::vector<double> values;
    for (const auto& operand : recipe.operands) {
        const auto term = term_of(dossier, map, operand);
        if (!term)
            return {};
        texts.push_back(term->text);
        values.push_back(term->value);
    }
    const auto found = plan_values({{{"", recipe.formula}}, {0}, {}, false, {}}, values);
    if (!found || !(std::abs(found->front() - expected) <= 1e-9 * std::abs(expected)))
        return {};
    Term term{filled_in(recipe.formula, texts), expected};
    if (term.text.size() > longest_formula)
        return {};
    return term;
}

/// What the last window of a warm-up log shows, from its rows.
std::optional<Term> of_window(const model::Dossier& dossier, const CellMap& map, const model::Result& result)
{
    const bool is_span = result.metric == "level_peak_to_peak";
    if (result.runs.empty() || (!is_span && result.metric != "level_standard_deviation"))
        return {};
    const auto window = LogWindow::of(dossier, map, result.runs.front());
    if (!window)
        return {};
    const auto term = is_span ? window->peak_to_peak() : window->deviation();
    if (!(std::abs(term.value - *result.value) <= 1e-9 * std::abs(*result.value)))
        return {};
    return term;
}

}  // namespace

Recipes::Recipes(const model::Dossier& dossier, const CellMap& map)
{
    for (const auto& result : dossier.evaluation.results) {
        if (result.recipe && result.value)
            formulas_.push_back(formula_of(dossier, map, *result.recipe, *result.value));
        else
            formulas_.push_back(result.value ? of_window(dossier, map, result) : std::nullopt);
    }
}

}  // namespace luxdossier::workbook
