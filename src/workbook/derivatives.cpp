#include "workbook/derivatives.hpp"

#include "uncertainty/derivative.hpp"
#include "workbook/partials.hpp"
#include "workbook/plan_text.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::workbook {

using uncertainty::Input;
using uncertainty::Node;
using uncertainty::Operation;

namespace {

/// Room that a formula leaves for what stands around it.
constexpr std::size_t longest_sum = longest_formula - 192;

}  // namespace

Derivatives::Derivatives(const model::Dossier& dossier, const CellMap& map)
    : dossier_(dossier), graph_(dossier.evaluation.graph), map_(map), budgets_(map.budgets().size())
{
    find_stages();
    std::vector<std::vector<Node>> outputs(graph_.calls().size());
    for (const auto node : map.nodes())
        if (needed_[node.index] && graph_.operations()[node.index].operation == Operation::estimate)
            outputs[graph_.operations()[node.index].left].push_back(node);
    for (const auto node : map.nodes()) {
        if (!needed_[node.index] || !stage_[node.index])
            continue;
        const auto& operand = graph_.operations()[node.index];
        if (operand.operation != Operation::estimate)
            derive_tree(node);
        else if (outputs[operand.left].front() == node)
            derive_call(operand.left, outputs[operand.left]);
    }
    // A result that is an input itself.
    for (std::size_t i = 0; i < map.budgets().size(); ++i)
        if (budgets_[i].empty())
            for (const auto& line : map.budgets()[i].budget.lines)
                budgets_[i].push_back({number_term(line.sensitivity), false});
}

void Derivatives::find_stages()
{
    const auto count = graph_.operations().size();
    needed_.assign(count, false);
    stage_.assign(count, false);
    std::vector<std::uint32_t> users(count, 0);
    for (std::size_t i = 0; i < map_.budgets().size(); ++i) {
        const auto node = dossier_.evaluation.results[map_.budgets()[i].result].node.value();
        budgets_of_node_[node.index].push_back(i);
        stage_[node.index] = true;
        if (!needed_[node.index])
            for (const auto upstream : graph_.upstream(node))
                needed_[upstream.index] = true;
    }
    for (std::uint32_t index = 0; index < count; ++index) {
        if (!needed_[index])
            continue;
        const auto& operand = graph_.operations()[index];
        if (operand.operation == Operation::input || operand.operation == Operation::constant)
            continue;
        if (operand.operation == Operation::estimate) {
            stage_[index] = true;
            for (const auto argument : graph_.calls()[operand.left].arguments)
                stage_[argument.index] = true;
            continue;
        }
        ++users[operand.left];
        if (uncertainty::operand_count(operand.operation) == 2)
            ++users[operand.right];
    }
    for (std::uint32_t index = 0; index < count; ++index)
        if (users[index] > 1)
            stage_[index] = true;
}

std::string Derivatives::label(Node node) const
{
    const auto& operand = graph_.operations()[node.index];
    if (operand.operation == Operation::input)
        return graph_.inputs()[operand.left].identity;
    const auto name = graph_.name(node);
    return fmt::format("{}{}{}", name, name.empty() ? "" : ", ", map_.node_cell(node, column::node_value));
}

Term Derivatives::cell(DerivativeRow row)
{
    if (rows_.size() + first_row >= sheet_rows)
        throw std::domain_error("workbook: more derivatives than a sheet has rows");
    const Position position{first_row + static_cast<std::uint32_t>(rows_.size()), column::derivative_value};
    const Term result{reference("derivatives", position), row.formula.value};
    rows_.push_back(std::move(row));
    return result;
}

Term Derivatives::shortened(Node of, std::vector<Term> terms, std::size_t room)
{
    std::size_t length = 0;
    for (const auto& term : terms)
        length += term.text.size() + 1;
    if (length <= room)
        return sum(terms);
    std::vector<Term> parts, part;
    length = 0;
    for (auto& term : terms) {
        if (length + term.text.size() + 1 > room) {
            parts.push_back(cell({of, "part of a long sum", sum(part), false, {}}));
            part.clear();
            length = 0;
        }
        length += term.text.size() + 1;
        part.push_back(std::move(term));
    }
    parts.push_back(cell({of, "part of a long sum", sum(part), false, {}}));
    return sum(parts);
}

void Derivatives::derive_tree(Node stage)
{
    std::map<std::uint32_t, std::vector<Term>> inputs;
    std::map<std::uint32_t, std::vector<Term>> used_stages;
    std::vector<std::pair<Node, Term>> open{{stage, Term{"1", 1}}};
    while (!open.empty()) {
        const auto [node, adjoint] = open.back();
        open.pop_back();
        const auto& operand = graph_.operations()[node.index];
        const auto [left, right] = partials(graph_, map_, node);
        const auto use = [&](std::uint32_t index, const std::optional<Term>& partial) {
            const auto& used = graph_.operations()[index];
            if (!partial || used.operation == Operation::constant)
                return;
            const auto term = product(adjoint, *partial);
            if (used.operation == Operation::input)
                inputs[used.left].push_back(term);
            else if (stage_[index])
                used_stages[index].push_back(term);
            else if (term.is_plain())
                open.emplace_back(Node{index}, term);
            else {
                beside_nodes_[index] = term;
                open.emplace_back(Node{index},
                                  Term{map_.node_cell(Node{index}, column::node_derivative), term.value});
            }
        };
        use(operand.left, left);
        use(operand.right, right);
    }
    std::vector<std::pair<Node, Sensitivity>> stages;
    for (auto& [index, terms] : used_stages) {
        Term local = sum(terms);
        if (terms.size() > 1 || !local.is_plain())
            local = cell({stage, label(Node{index}), shortened(stage, terms, longest_sum), false, {}});
        stages.emplace_back(Node{index}, Sensitivity{local, false});
    }
    collect(stage, inputs, stages);
}

void Derivatives::derive_call(std::size_t call, const std::vector<Node>& outputs)
{
    const auto& arguments = graph_.calls()[call].arguments;
    const auto& plan = map_.plans()[call];
    const auto& estimator = *graph_.calls()[call].estimator;
    std::vector<double> values;
    for (const auto argument : arguments)
        values.push_back(graph_.value(argument));
    const bool live = !plan.stored && !plan.derivatives.empty();
    for (const auto output : outputs) {
        const auto which = graph_.operations()[output.index].right;
        std::vector<double> weights(estimator.output_count(), 0.0), derivatives(arguments.size(), 0.0);
        weights[which] = 1;
        estimator.pull_back(values, weights, derivatives);
        std::map<std::uint32_t, std::vector<Term>> inputs;
        std::vector<std::pair<Node, Sensitivity>> stages;
        for (std::size_t j = 0; j < arguments.size(); ++j) {
            const auto& operand = graph_.operations()[arguments[j].index];
            const auto* pattern = live ? &plan.derivatives[which * arguments.size() + j] : nullptr;
            if (operand.operation == Operation::constant || (live ? *pattern == "0" : derivatives[j] == 0))
                continue;
            DerivativeRow row{output, label(arguments[j]), Term{"", derivatives[j]}, !live, {}};
            if (live)
                row.formula.text = plan_formula(graph_, map_, call, *pattern);
            if (!live || row.formula.text.size() + 1 > longest_formula) {
                row.formula.text.clear();
                row.stored = true;
                row.reason = fmt::format("derivative of {}", estimator.name());
            }
            const bool stored = row.stored;
            const auto local = cell(std::move(row));
            if (operand.operation == Operation::input && !stored)
                inputs[operand.left].push_back(local);
            else
                stages.emplace_back(arguments[j], Sensitivity{local, stored});
        }
        collect(output, inputs, stages);
    }
}

void Derivatives::collect(Node stage, const std::map<std::uint32_t, std::vector<Term>>& inputs,
                          const std::vector<std::pair<Node, Sensitivity>>& stages)
{
    auto terms = inputs;
    std::map<std::uint32_t, bool> stored;
    for (const auto& [node, local] : stages) {
        const auto& operand = graph_.operations()[node.index];
        if (operand.operation == Operation::input) {
            terms[operand.left].push_back(local.formula);
            stored[operand.left] |= local.rests_on_stored;
            continue;
        }
        for (const auto& [input, upstream] : gradients_.at(node.index)) {
            terms[input].push_back(product(local.formula, upstream.formula));
            stored[input] |= local.rests_on_stored || upstream.rests_on_stored;
        }
    }
    settle(stage, std::move(terms), stored);
}

void Derivatives::settle(Node stage, std::map<std::uint32_t, std::vector<Term>> terms,
                         const std::map<std::uint32_t, bool>& stored)
{
    Gradient gradient;
    const auto is_stored = [&](std::uint32_t input) {
        const auto found = stored.find(input);
        return found != stored.end() && found->second;
    };
    const auto owner = budgets_of_node_.find(stage.index);
    if (owner == budgets_of_node_.end()) {
        for (auto& [input, list] : terms) {
            auto formula = shortened(stage, std::move(list), longest_sum);
            if (!formula.is_plain() || formula.text.find_first_of("+-", 1) != std::string::npos)
                formula = cell({stage, graph_.inputs()[input].identity, formula, false, {}});
            gradient[input] = {formula, is_stored(input)};
        }
        gradients_[stage.index] = std::move(gradient);
        return;
    }
    // The sensitivities of a result stand in its budget; whoever uses the result refers to them there.
    const auto first = owner->second.front();
    const auto& block = map_.budgets()[first];
    for (std::size_t line = 0; line < block.budget.lines.size(); ++line) {
        const auto input = block.budget.lines[line].input.index;
        const auto found = terms.find(input);
        Term formula{"0", 0};
        if (found != terms.end())
            formula = shortened(stage, std::move(found->second), longest_sum);
        const Position position{block.line_row(line), column::budget_sensitivity};
        gradient[input] = {Term{reference("budgets", position), formula.value}, is_stored(input)};
        budgets_[first].push_back({formula, is_stored(input)});
    }
    for (std::size_t other = 1; other < owner->second.size(); ++other)
        for (const auto& line : map_.budgets()[owner->second[other]].budget.lines)
            budgets_[owner->second[other]].push_back(gradient.at(line.input.index));
    gradients_[stage.index] = std::move(gradient);
}

}  // namespace luxdossier::workbook
