#include "workbook/stored_upstream.hpp"

#include <algorithm>
#include <charconv>

namespace luxdossier::workbook {

using uncertainty::Evaluation;
using uncertainty::Input;
using uncertainty::Node;
using uncertainty::Operation;

namespace {

class Nodes {
public:
    Nodes(const uncertainty::Graph& graph, const CellMap& map, const MeanFormulas& means)
        : graph_(graph), stored_(graph.operations().size(), false)
    {
        for (std::uint32_t index = 0; index < stored_.size(); ++index)
            if (const auto& operand = graph.operations()[index]; operand.operation == Operation::input) {
                const auto& input = graph.inputs()[operand.left];
                // Also where the estimate is 0: an input of the kind "noise of a crossing" stands beside a
                // constant that was found in the readings.
                stored_[index] =
                    input.evaluation == Evaluation::type_a && means.estimate(Input{operand.left}) == nullptr;
            }
        for (const auto node : map.nodes())
            stored_[node.index] = of(map, graph.operations()[node.index]);
    }

    [[nodiscard]] bool operator[](Node node) const { return stored_[node.index]; }

private:
    [[nodiscard]] bool of(const CellMap& map, const uncertainty::Operand& operand) const
    {
        if (operand.operation != Operation::estimate) {
            // Unary operations leave `right` at the first node: what it says is asked for nothing.
            const bool is_unary =
                operand.operation == Operation::negate || (operand.operation >= Operation::square_root &&
                                                           operand.operation <= Operation::absolute_value);
            return stored_[operand.left] || (!is_unary && stored_[operand.right]);
        }
        const auto& plan = map.plans()[operand.left];
        return plan.stored || std::ranges::any_of(plan.cells, is_stored_helper) ||
               std::ranges::any_of(graph_.calls()[operand.left].arguments,
                                   [&](Node argument) { return stored_[argument.index]; });
    }

    const uncertainty::Graph& graph_;
    std::vector<bool> stored_;
};

}  // namespace

bool is_stored_helper(const uncertainty::CellPlan::Cell& cell)
{
    double value = 0;
    const auto* end = cell.formula.data() + cell.formula.size();
    const auto [stop, error] = std::from_chars(cell.formula.data(), end, value);
    return error == std::errc{} && stop == end;
}

StoredUpstream::StoredUpstream(const model::Dossier& dossier, const CellMap& map, const MeanFormulas& means,
                               const Derivatives& derivatives, const Recipes& recipes)
{
    const auto& evaluation = dossier.evaluation;
    const auto& graph = evaluation.graph;
    const Nodes nodes(graph, map, means);
    for (const auto& result : evaluation.results)
        values_.push_back(!result.node || !result.combined || nodes[*result.node]);
    uncertainties_ = values_;
    const auto of_input = [&](Input which) {
        const auto& input = graph.inputs()[which.index];
        return (input.from_readings || input.evaluation == Evaluation::type_a) &&
               means.uncertainty(which) == nullptr;
    };
    for (std::size_t i = 0; i < evaluation.results.size(); ++i)
        if (map.budget_of(i) == nullptr)
            uncertainties_[i] = true;
    for (std::size_t index = 0; index < map.budgets().size(); ++index) {
        const auto& block = map.budgets()[index];
        bool stored = uncertainties_[block.result];
        for (std::size_t line = 0; line < block.budget.lines.size() && !stored; ++line) {
            stored = derivatives.of_budget(index)[line].rests_on_stored ||
                     of_input(block.budget.lines[line].input);
        }
        for (const auto group : block.groups) {
            const bool stated = graph.groups()[group].kind == uncertainty::InputGroup::Kind::stated;
            stored = stored || (!stated && means.group_freedom(group) == nullptr);
            for (const auto& pair : map.pairs(group))
                stored = stored || (!stated && means.covariance(group, pair.a, pair.b) == nullptr);
        }
        uncertainties_[block.result] = stored;
    }
    // Recipes last: they rest on what is known by now, a result on earlier ones only.
    const auto of_operand = [&](const model::Recipe::Operand& operand, std::size_t result) -> bool {
        using Of = model::Recipe::Of;
        switch (operand.of) {
        case Of::set_mean:
            return !means.row(operand.index).mean;
        case Of::set_deviation:
            return !means.row(operand.index).own;
        case Of::set_resolution:
            return evaluation.sets[operand.index].resolution_from_data;
        case Of::node:
            return nodes[Node{static_cast<std::uint32_t>(operand.index)}];
        case Of::result:
            return operand.index >= result || values_[operand.index];
        case Of::sensitivity:
            return uncertainties_[operand.index];
        case Of::input_uncertainty:
            return of_input(operand.input);
        case Of::set_size:
        case Of::normal_factor:
        case Of::factor:
            return false;
        }
        return true;
    };
    for (std::size_t i = 0; i < evaluation.results.size(); ++i)
        if (recipes.formula(i) != nullptr)  // without a recipe: from rows of a run alone
            values_[i] = evaluation.results[i].recipe &&
                         std::ranges::any_of(evaluation.results[i].recipe->operands,
                                             [&](const auto& operand) { return of_operand(operand, i); });
}

}  // namespace luxdossier::workbook
