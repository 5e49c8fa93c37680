#include "workbook/cell_map.hpp"

#include "uncertainty/formula.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

namespace luxdossier::workbook {

using uncertainty::Input;
using uncertainty::Node;
using uncertainty::Operation;

namespace {

bool is_leaf(const uncertainty::Operand& operand)
{
    return operand.operation == Operation::input || operand.operation == Operation::constant;
}

}  // namespace

CellMap::CellMap(const model::Dossier& dossier, std::uint32_t rows)
    : dossier_(dossier), graph_(dossier.evaluation.graph),
      rows_of_a_sheet_(rows - first_row), sheet_names_{"guide",    "verdicts", "limits",      "results",
                                                       "budgets",  "model",    "derivatives", "inputs",
                                                       "groups",   "means",    "pools",       "neighbours",
                                                       "coverage", "meters",   "remarks",     "evidence",
                                                       "charts",   "plots",    "stored"}
{
    place_readings();
    place_groups();
    place_nodes();
    place_budgets();
    place_limits();
    place_factors();
}

void CellMap::place_readings()
{
    const auto& runs = dossier_.qualification.runs;
    reading_of_run_.resize(runs.size());
    for (std::size_t run = 0; run < runs.size(); ++run) {
        const auto* table = runs[run].table.get();
        const auto known = std::ranges::find(readings_, table, &ReadingSheets::table);
        reading_of_run_[run] = static_cast<std::size_t>(known - readings_.begin());
        if (known != readings_.end()) {
            known->runs.push_back(run);
            continue;
        }
        ReadingSheets sheets{{}, {run}, table};
        const std::size_t rows = table == nullptr ? 0 : table->rows;
        for (std::size_t from = 0; from == 0 || from < rows; from += rows_of_a_sheet_)
            sheets.names.push_back(
                sheet_name(from == 0 ? fmt::format("run {}", runs[run].id)
                                     : fmt::format("run {} {}", runs[run].id, 1 + from / rows_of_a_sheet_),
                           sheet_names_));
        readings_.push_back(std::move(sheets));
    }
}

void CellMap::place_groups()
{
    std::uint32_t row = first_row;
    for (const auto& group : graph_.groups()) {
        group_rows_.push_back(row++);
        auto& pairs = group_pairs_.emplace_back();
        const auto n = group.members.size();
        for (std::size_t a = 0; a < n; ++a)
            for (std::size_t b = a + 1; b < n; ++b)
                if (group.covariance[a * n + b] != 0)
                    pairs.push_back({a, b, group.covariance[a * n + b]});
        row += static_cast<std::uint32_t>(pairs.size());
    }
}

void CellMap::place_nodes()
{
    std::vector<bool> used(graph_.operations().size(), false);
    const auto use = [&](Node wanted) {
        if (!used[wanted.index])
            for (const auto node : graph_.upstream(wanted))
                used[node.index] = true;
    };
    for (const auto& result : dossier_.evaluation.results) {
        if (result.node)
            use(*result.node);
        if (result.recipe)
            for (const auto& operand : result.recipe->operands)
                if (operand.of == model::Recipe::Of::node)
                    use(Node{static_cast<std::uint32_t>(operand.index)});
    }
    for (const auto& call : graph_.calls())
        plans_.push_back(call.estimator->cell_plan(call.arguments.size()));
    call_places_.resize(graph_.calls().size());
    std::vector<bool> call_seen(graph_.calls().size(), false);
    std::size_t next = 0;
    const auto take = [&] {
        const Place place{static_cast<std::uint16_t>(next / rows_of_a_sheet_),
                          first_row + static_cast<std::uint32_t>(next % rows_of_a_sheet_)};
        ++next;
        return place;
    };
    for (std::uint32_t index = 0; index < used.size(); ++index) {
        const auto& operand = graph_.operations()[index];
        if (!used[index] || is_leaf(operand))
            continue;
        if (operand.operation == Operation::estimate && !call_seen[operand.left]) {
            const auto& plan = plans_[operand.left];
            call_seen[operand.left] = true;
            // The helper cells of one call stay together on one sheet.
            if (!plan.stored && next % rows_of_a_sheet_ + plan.cells.size() > rows_of_a_sheet_)
                next = (next / rows_of_a_sheet_ + 1) * rows_of_a_sheet_;
            call_places_[operand.left] = take();
            if (!plan.stored)
                next += plan.cells.size();
        }
        nodes_.push_back(Node{index});
        node_places_[index] = take();
    }
    model_sheets_.emplace_back("model");
    for (std::size_t sheet = 1; sheet * rows_of_a_sheet_ < next; ++sheet)
        model_sheets_.push_back(sheet_name("model more", sheet_names_));
}

void CellMap::place_budgets()
{
    const auto& evaluation = dossier_.evaluation;
    std::vector<bool> judged(evaluation.results.size(), false);
    for (const auto& verdict : dossier_.verdicts.verdicts)
        if (verdict.result)
            judged[*verdict.result] = true;
    budget_of_result_.assign(evaluation.results.size(), -1);
    std::size_t lines = 0;
    std::vector<BudgetBlock> chosen;
    for (const bool turn : {true, false})
        for (std::size_t i = 0; i < evaluation.results.size(); ++i) {
            const auto& result = evaluation.results[i];
            if (judged[i] != turn || !result.node || !result.combined || lines > most_budget_lines)
                continue;
            BudgetBlock block{i, evaluation.budget(result), 0, {}};
            lines += block.budget.lines.size();
            if (lines <= most_budget_lines)
                chosen.push_back(std::move(block));
        }
    std::ranges::sort(chosen, {}, &BudgetBlock::result);
    std::uint32_t row = first_row;
    for (auto& block : chosen) {
        block.row = row;
        std::set<std::size_t> groups;
        for (const auto& line : block.budget.lines)
            if (const auto group = graph_.group_of(line.input))
                groups.insert(*group);
        block.groups.assign(groups.begin(), groups.end());
        row += static_cast<std::uint32_t>(block.budget.lines.size() + block.groups.size()) + 2;
        budget_of_result_[block.result] = static_cast<std::int32_t>(budgets_.size());
        budgets_.push_back(std::move(block));
    }
}

void CellMap::place_limits()
{
    if (!dossier_.limits)
        return;
    const auto& limits = dossier_.limits->limits;
    auto row = first_row + 1 + static_cast<std::uint32_t>(limits.size()) + 2;
    for (const auto& limit : limits) {
        mask_rows_.push_back(row);
        if (limit.mask)
            row += static_cast<std::uint32_t>(limit.mask->angle_degree.size()) + 2;
    }
}

void CellMap::place_factors()
{
    for (const auto& result : dossier_.evaluation.results)
        if (result.recipe)
            for (const auto& operand : result.recipe->operands)
                if (operand.of == model::Recipe::Of::factor &&
                    std::ranges::find(factors_, operand.name, &model::Recipe::Operand::name) ==
                        factors_.end())
                    factors_.push_back(operand);
}

std::string CellMap::factor_cell(const std::string& name) const
{
    const auto found = std::ranges::find(factors_, name, &model::Recipe::Operand::name);
    return absolute_reference(
        "coverage", {first_row + static_cast<std::uint32_t>(found - factors_.begin()), column::factor_value});
}

Term CellMap::estimate(Input input) const
{
    return {reference("inputs", {first_row + input.index, column::input_estimate}),
            graph_.inputs()[input.index].estimate};
}

std::string CellMap::uncertainty(Input input) const
{
    return reference("inputs", {first_row + input.index, column::input_uncertainty});
}

std::string CellMap::freedom(Input input) const
{
    return reference("inputs", {first_row + input.index, column::input_freedom});
}

Term CellMap::value(Node node) const
{
    const auto& operand = graph_.operations()[node.index];
    if (operand.operation == Operation::input)
        return estimate(Input{operand.left});
    if (operand.operation == Operation::constant)
        return number_term(operand.value);
    return {node_cell(node, column::node_value), graph_.value(node)};
}

std::string CellMap::node_cell(Node node, std::uint16_t column) const
{
    const auto where = place(node);
    return reference(model_sheets_[where.sheet], {where.row, column});
}

std::string CellMap::helper_cell(std::size_t call, std::size_t helper) const
{
    const auto where = call_places_[call];
    return reference(model_sheets_[where.sheet],
                     {where.row + 1 + static_cast<std::uint32_t>(helper), column::node_value});
}

std::string CellMap::set_cell(std::size_t set, std::uint16_t column) const
{
    return reference("means", {first_row + static_cast<std::uint32_t>(set), column});
}

std::string CellMap::result_cell(std::size_t result, std::uint16_t column) const
{
    return reference("results", {first_row + static_cast<std::uint32_t>(result), column});
}

std::string CellMap::limit_cell(std::size_t limit, std::uint16_t column) const
{
    // One row above the limits holds the decision rule of the whole file.
    return reference("limits", {first_row + 1 + static_cast<std::uint32_t>(limit), column});
}

std::string CellMap::verdict_cell(std::size_t verdict, std::uint16_t column) const
{
    return reference("verdicts", {first_row + static_cast<std::uint32_t>(verdict), column});
}

std::string CellMap::covariance(std::size_t group, std::size_t a, std::size_t b) const
{
    const auto& pairs = group_pairs_.at(group);
    const auto found =
        std::ranges::find_if(pairs, [&](const Pair& pair) { return pair.a == a && pair.b == b; });
    if (found == pairs.end())
        return {};
    return reference("groups", {group_rows_[group] + 1 + static_cast<std::uint32_t>(found - pairs.begin()),
                                column::group_covariance});
}

std::string CellMap::group_freedom(std::size_t group) const
{
    return reference("groups", {group_rows_.at(group), column::group_freedom});
}

std::pair<const std::string*, Position> CellMap::reading(std::size_t run, std::uint32_t row,
                                                         std::size_t number_column) const
{
    const auto& sheets = readings_[reading_of_run_.at(run)];
    return {&sheets.names.at(row / rows_of_a_sheet_),
            {first_row + row % rows_of_a_sheet_, static_cast<std::uint16_t>(2 + number_column)}};
}

std::string CellMap::first_reading(std::size_t set) const
{
    const auto& of_set = dossier_.evaluation.sets.at(set);
    const auto* table = dossier_.qualification.runs.at(of_set.run).table.get();
    if (table == nullptr || of_set.rows.empty())
        return reference(readings_of(of_set.run).names.front(), {first_row, 0});
    const auto found = std::ranges::find(table->numbers, of_set.column, &model::NumberColumn::meaning);
    const auto [sheet, position] =
        reading(of_set.run, of_set.rows.front(), static_cast<std::size_t>(found - table->numbers.begin()));
    return reference(*sheet, position);
}

const BudgetBlock* CellMap::budget_of(std::size_t result) const
{
    const auto index = budget_of_result_.at(result);
    return index < 0 ? nullptr : &budgets_[static_cast<std::size_t>(index)];
}

}  // namespace luxdossier::workbook
