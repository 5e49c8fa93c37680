#include "uncertainty/graph.hpp"

#include "uncertainty/derivative.hpp"

#include <algorithm>
#include <functional>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::uncertainty {
namespace {

/// Working memory of a sweep, one per thread: a sweep costs what lies upstream of the result, not the whole
/// graph.
class Scratch {
public:
    void start(std::size_t node_count)
    {
        if (stamps_.size() < node_count) {
            stamps_.resize(node_count, 0);
            adjoints_.resize(node_count, 0.0);
        }
        if (++generation_ == 0) {
            std::ranges::fill(stamps_, 0U);
            generation_ = 1;
        }
        order.clear();
    }
    bool visited(std::uint32_t node) const { return stamps_[node] == generation_; }
    /// True at the first visit.
    bool visit(std::uint32_t node)
    {
        if (visited(node))
            return false;
        stamps_[node] = generation_;
        adjoints_[node] = 0.0;
        order.push_back(node);
        return true;
    }
    double& adjoint(std::uint32_t node) { return adjoints_[node]; }

    std::vector<std::uint32_t> order;
    std::vector<std::uint32_t> stack;
    std::vector<double> arguments, argument_adjoints, output_adjoints;

private:
    std::vector<std::uint32_t> stamps_;
    std::vector<double> adjoints_;
    std::uint32_t generation_ = 0;
};

Scratch& scratch_of_thread()
{
    thread_local Scratch scratch;
    return scratch;
}

}  // namespace

std::string_view distribution_text(Distribution distribution)
{
    switch (distribution) {
    case Distribution::normal:
        return "normal";
    case Distribution::rectangular:
        return "rectangular";
    case Distribution::triangular:
        return "triangular";
    case Distribution::arcsine:
        return "arcsine";
    case Distribution::trapezoidal:
        return "trapezoidal";
    case Distribution::student_t:
        return "t";
    }
    return {};
}

CellPlan Estimator::cell_plan(std::size_t) const
{
    CellPlan plan;
    plan.stored = true;
    plan.stored_reason = fmt::format("{} has no spreadsheet formula", name());
    return plan;
}

void Estimator::evaluate_trials(std::span<const double* const> inputs, std::span<double* const> outputs,
                                std::size_t trials) const
{
    std::vector<double> results(outputs.size());
    each_trial(inputs, trials, [&](std::size_t trial, std::span<const double> arguments) {
        try {
            evaluate(arguments, results);
        } catch (const std::domain_error&) {
            std::ranges::fill(results, std::numeric_limits<double>::quiet_NaN());
        }
        for (std::size_t index = 0; index < outputs.size(); ++index)
            outputs[index][trial] = results[index];
    });
}

std::string_view Graph::name(Node node) const
{
    const auto found = names_.find(node.index);
    return found == names_.end() ? std::string_view{} : std::string_view{found->second};
}

std::optional<std::size_t> Graph::group_of(Input input) const
{
    const auto group = group_of_input_.at(input.index);
    return group < 0 ? std::nullopt : std::optional<std::size_t>{static_cast<std::size_t>(group)};
}

std::optional<Input> Graph::find_input(std::string_view identity) const
{
    const auto found = input_by_identity_.find(std::string(identity));
    return found == input_by_identity_.end() ? std::nullopt : std::optional<Input>{Input{found->second}};
}

std::vector<double> Graph::evaluate(std::span<const double> input_values) const
{
    if (input_values.size() != inputs_.size())
        throw std::domain_error(
            fmt::format("found {} input values, expected {}", input_values.size(), inputs_.size()));
    std::vector<Node> all(operations_.size());
    for (std::uint32_t index = 0; index < all.size(); ++index)
        all[index] = Node{index};
    std::vector<double> values;
    evaluate(input_values, all, values);
    return values;
}

double Graph::evaluate(std::span<const double> input_values, std::span<const Node> upstream) const
{
    static thread_local std::vector<double> values;
    evaluate(input_values, upstream, values);
    return values[upstream.back().index];
}

void Graph::evaluate(std::span<const double> input_values, std::span<const Node> nodes,
                     std::vector<double>& values) const
{
    values.resize(operations_.size());
    std::vector<double> arguments, outputs;
    std::optional<std::uint32_t> last_call;
    for (const auto [index] : nodes) {
        const auto& operand = operations_[index];
        switch (operand.operation) {
        case Operation::input:
            values[index] = input_values[operand.left];
            break;
        case Operation::constant:
            values[index] = operand.value;
            break;
        case Operation::estimate: {
            if (std::exchange(last_call, operand.left) == operand.left)
                break;  // outputs are neighbours: the first has filled them all
            const auto& call = calls_[operand.left];
            arguments.clear();
            for (const Node argument : call.arguments)
                arguments.push_back(values[argument.index]);
            outputs.assign(call.estimator->output_count(), 0.0);
            call.estimator->evaluate(arguments, outputs);
            std::ranges::copy(outputs,
                              values.begin() + static_cast<std::ptrdiff_t>(call_first_node_[operand.left]));
            break;
        }
        default:
            values[index] = operation_value(operand.operation, values[operand.left], values[operand.right]);
        }
    }
}

namespace {

/// Collects what lies upstream of a node into scratch.order, the latest node first.
void collect_upstream(const Graph& graph, Node result, Scratch& scratch)
{
    const auto operations = graph.operations();
    scratch.start(operations.size());
    scratch.stack.assign(1, result.index);
    scratch.visit(result.index);
    const auto follow = [&scratch](std::uint32_t node) {
        if (scratch.visit(node))
            scratch.stack.push_back(node);
    };
    while (!scratch.stack.empty()) {
        const auto& operand = operations[scratch.stack.back()];
        scratch.stack.pop_back();
        if (operand.operation == Operation::estimate) {
            for (const Node argument : graph.calls()[operand.left].arguments)
                follow(argument.index);
            continue;
        }
        const int operands = operand_count(operand.operation);
        if (operands > 0)
            follow(operand.left);
        if (operands > 1)
            follow(operand.right);
    }
    std::ranges::sort(scratch.order, std::greater{});
}

/// One vector-Jacobian product for all outputs of a call. When the sweep meets the first output of a call,
/// the adjoints of all its outputs are final: they are neighbours in the arena, and nothing between them uses
/// them.
void pull_back_call(const EstimatorCall& call, std::uint32_t first_output, std::span<const double> values,
                    Scratch& scratch)
{
    scratch.output_adjoints.clear();
    bool any = false;
    for (std::uint32_t output = 0; output < call.estimator->output_count(); ++output) {
        const auto node = first_output + output;
        scratch.output_adjoints.push_back(scratch.visited(node) ? scratch.adjoint(node) : 0.0);
        any = any || scratch.output_adjoints.back() != 0.0;
    }
    if (!any)
        return;
    scratch.arguments.clear();
    for (const Node argument : call.arguments)
        scratch.arguments.push_back(values[argument.index]);
    scratch.argument_adjoints.assign(call.arguments.size(), 0.0);
    call.estimator->pull_back(scratch.arguments, scratch.output_adjoints, scratch.argument_adjoints);
    for (std::size_t index = 0; index < call.arguments.size(); ++index)
        scratch.adjoint(call.arguments[index].index) += scratch.argument_adjoints[index];
}

}  // namespace

std::vector<Sensitivity> Graph::sensitivities(Node result) const
{
    auto& scratch = scratch_of_thread();
    static_cast<void>(operations_.at(result.index));
    collect_upstream(*this, result, scratch);
    scratch.adjoint(result.index) = 1.0;
    std::vector<Sensitivity> found;
    std::optional<std::uint32_t> last_call;
    for (const auto index : scratch.order) {
        const auto& operand = operations_[index];
        const double adjoint = scratch.adjoint(index);
        if (operand.operation == Operation::input) {
            found.push_back({Input{operand.left}, adjoint});
        } else if (operand.operation == Operation::estimate) {
            if (last_call != operand.left)
                pull_back_call(calls_[operand.left], call_first_node_[operand.left], values_, scratch);
            last_call = operand.left;
        } else if (const int operands = operand_count(operand.operation); operands > 0 && adjoint != 0.0) {
            // A zero adjoint ends here: times an infinite derivative it would turn into NaN.
            const auto partials = partial_derivatives(operand.operation, values_[operand.left],
                                                      values_[operand.right], values_[index]);
            if (partials.left != 0.0)
                scratch.adjoint(operand.left) += adjoint * partials.left;
            if (operands > 1 && partials.right != 0.0)
                scratch.adjoint(operand.right) += adjoint * partials.right;
        }
    }
    std::ranges::sort(found, {}, &Sensitivity::input);
    return found;
}

std::vector<Node> Graph::upstream(Node result) const
{
    auto& scratch = scratch_of_thread();
    static_cast<void>(operations_.at(result.index));
    collect_upstream(*this, result, scratch);
    std::vector<Node> nodes;
    nodes.reserve(scratch.order.size());
    for (auto index = scratch.order.rbegin(); index != scratch.order.rend(); ++index)
        nodes.push_back(Node{*index});
    return nodes;
}

}  // namespace luxdossier::uncertainty
