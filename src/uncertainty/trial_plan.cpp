#include "uncertainty/trial_plan.hpp"

#include "uncertainty/derivative.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <unordered_map>

#include <fmt/format.h>

namespace luxdossier::uncertainty {
namespace {

constexpr std::uint32_t none = std::numeric_limits<std::uint32_t>::max();

/// Lower triangle L with L L^T = covariance; a direction without variance has a zero column, so that a
/// singular matrix is as good as any (JCGM 101:2008, C.5; the group was found positive semi-definite).
std::vector<std::vector<double>> cholesky(const InputGroup& group)
{
    const auto size = group.members.size();
    std::vector<std::vector<double>> rows;
    for (std::size_t i = 0; i < size; ++i) {
        std::vector<double> row(i + 1, 0.0);
        const double variance = group.covariance[i * size + i];
        double rest = variance;
        for (std::size_t j = 0; j < i; ++j) {
            double value = group.covariance[i * size + j];
            for (std::size_t k = 0; k < j; ++k)
                value -= row[k] * rows[j][k];
            row[j] = rows[j][j] > 0.0 ? value / rows[j][j] : 0.0;
            rest -= row[j] * row[j];
        }
        // What is left of a correlation of 1 is rounding.
        row[i] = rest > 1e-10 * variance ? std::sqrt(rest) : 0.0;
        rows.push_back(std::move(row));
    }
    return rows;
}

DrawInput draw_of(const InputQuantity& quantity)
{
    const double u = quantity.standard_uncertainty;
    DrawInput draw;
    draw.location = quantity.estimate;
    draw.scale = u;
    switch (quantity.distribution) {
    case Distribution::rectangular: {
        const double half_width = u * std::sqrt(3.0);
        draw.shape = DrawInput::Shape::rectangular;
        draw.location = quantity.estimate - half_width;
        draw.scale = 2.0 * half_width;
        break;
    }
    case Distribution::triangular:
    case Distribution::trapezoidal: {
        const double ratio = quantity.distribution == Distribution::trapezoidal ? quantity.shape : 0.0;
        const double half_width = u * std::sqrt(6.0 / (1.0 + ratio * ratio));
        draw.shape = DrawInput::Shape::trapezoidal;
        draw.location = quantity.estimate - half_width;
        draw.scale = 2.0 * half_width;
        draw.shape_parameter = (1.0 + ratio) / 2.0;
        break;
    }
    case Distribution::arcsine:
        draw.shape = DrawInput::Shape::arcsine;
        draw.scale = u * std::sqrt(2.0);
        break;
    case Distribution::normal:
    case Distribution::student_t:
        draw.shape =
            quantity.degrees_of_freedom > 1e9 ? DrawInput::Shape::normal : DrawInput::Shape::student_t;
        draw.shape_parameter = quantity.degrees_of_freedom;
        break;
    }
    return draw;
}

/// Writes the steps of a plan with one buffer a value, then lets values share buffers.
class Planner {
public:
    explicit Planner(const TrialModel& model)
        : model_(model), graph_(model.graph()), value_of_node_(graph_.operations().size(), none)
    {
    }

    void add_target(std::size_t index, Node node)
    {
        need(node);
        plan_.steps.emplace_back(Observe{index, value(node)});
    }

    TrialPlan take() &&
    {
        share_buffers();
        return std::move(plan_);
    }

private:
    /// The value of a node as an array, a constant one if need be.
    std::uint32_t value(Node node)
    {
        auto& known = value_of_node_[node.index];
        if (known == none) {
            known = values_++;
            constants_.emplace_back(known, graph_.value(node));
        }
        return known;
    }
    std::uint32_t new_value(Node node) { return value_of_node_[node.index] = values_++; }
    [[nodiscard]] bool is_there(Node node) const
    {
        return model_.is_constant(node) || value_of_node_[node.index] != none;
    }

    void push_operands(Node node)
    {
        const auto& operand = graph_.operations()[node.index];
        if (operand.operation == Operation::estimate) {
            const auto& arguments = graph_.calls()[operand.left].arguments;
            stack_.insert(stack_.end(), arguments.rbegin(), arguments.rend());
            return;
        }
        const int operands = operand_count(operand.operation);
        if (operands > 1)
            stack_.push_back(Node{operand.right});
        if (operands > 0)
            stack_.push_back(Node{operand.left});
    }

    /// Steps for a node and all that it needs, operands first.
    void need(Node result)
    {
        stack_.assign(1, result);
        while (!stack_.empty()) {
            const Node node = stack_.back();
            if (is_there(node)) {
                stack_.pop_back();
                continue;
            }
            const auto before = stack_.size();
            push_operands(node);
            std::erase_if(stack_, [&, at = std::size_t{0}](Node waiting) mutable {
                return at++ >= before && is_there(waiting);
            });
            if (stack_.size() == before) {
                stack_.pop_back();
                add_step(node);
            }
        }
    }

    void add_step(Node node)
    {
        const auto& operand = graph_.operations()[node.index];
        if (operand.operation == Operation::input)
            add_draw(Input{operand.left});
        else if (operand.operation == Operation::estimate)
            add_call(operand.left, node.index - operand.right);
        else
            add_calculation(node, operand);
    }

    std::uint32_t new_stream(std::uint64_t key)
    {
        plan_.stream_keys.push_back(key);
        return static_cast<std::uint32_t>(plan_.stream_keys.size() - 1);
    }

    void add_draw(Input input)
    {
        if (const auto group = graph_.group_of(input))
            return add_group(*group);
        auto draw = draw_of(graph_.inputs()[input.index]);
        draw.stream = new_stream(model_.key(input));
        draw.out = new_value(graph_.node_of(input));
        plan_.steps.emplace_back(draw);
    }

    /// All members are drawn when the first is needed: those that nobody needs cost little, and what is drawn
    /// must not depend on who asks.
    void add_group(std::size_t index)
    {
        const auto& group = graph_.groups()[index];
        DrawGroup draw;
        draw.degrees_of_freedom = group.degrees_of_freedom;
        for (std::size_t i = 0; i < group.members.size(); ++i) {
            const Node node = graph_.node_of(group.members[i]);
            if (!model_.is_constant(node))
                draw.members.push_back({graph_.value(node), model_.factor(index)[i], new_value(node)});
        }
        for (std::size_t pair = 0; 2 * pair < group.members.size(); ++pair)
            draw.streams.push_back(new_stream(model_.key(index, pair)));
        plan_.largest_group = std::max(plan_.largest_group, 2 * draw.streams.size());
        plan_.steps.emplace_back(std::move(draw));
    }

    void add_call(std::uint32_t index, std::uint32_t first_output)
    {
        const auto& call = graph_.calls()[index];
        CallEstimator step;
        step.estimator = call.estimator.get();
        for (const Node argument : call.arguments)
            step.arguments.push_back(value(argument));
        for (std::uint32_t output = 0; output < call.estimator->output_count(); ++output)
            step.outputs.push_back(new_value(Node{first_output + output}));
        plan_.steps.emplace_back(std::move(step));
    }

    Calculate::Source source(Node node)
    {
        if (model_.is_constant(node))
            return {true, graph_.value(node), 0};
        return {false, 0.0, value_of_node_[node.index]};
    }

    void add_calculation(Node node, const Operand& operand)
    {
        Calculate step;
        step.operation = operand.operation;
        step.is_binary = operand_count(operand.operation) > 1;
        step.left = source(Node{operand.left});
        if (step.is_binary)
            step.right = source(Node{operand.right});
        step.out = new_value(node);
        plan_.steps.emplace_back(step);
    }

    template <class Each>
    static void for_each_read(Step& step, Each each)
    {
        if (auto* calculate = std::get_if<Calculate>(&step)) {
            if (!calculate->left.is_constant)
                each(calculate->left.buffer);
            if (calculate->is_binary && !calculate->right.is_constant)
                each(calculate->right.buffer);
        } else if (auto* call = std::get_if<CallEstimator>(&step)) {
            for (auto& argument : call->arguments)
                each(argument);
        } else if (auto* observe = std::get_if<Observe>(&step)) {
            each(observe->values);
        }
    }

    template <class Each>
    static void for_each_written(Step& step, Each each)
    {
        if (auto* draw = std::get_if<DrawInput>(&step))
            each(draw->out);
        else if (auto* group = std::get_if<DrawGroup>(&step))
            for (auto& member : group->members)
                each(member.out);
        else if (auto* calculate = std::get_if<Calculate>(&step))
            each(calculate->out);
        else if (auto* call = std::get_if<CallEstimator>(&step))
            for (auto& output : call->outputs)
                each(output);
    }

    void share_buffers()
    {
        std::vector<std::size_t> last_use(values_, 0);
        for (std::size_t index = 0; index < plan_.steps.size(); ++index) {
            const auto touch = [&](Buffer& value) { last_use[value] = index; };
            for_each_read(plan_.steps[index], touch);
            for_each_written(plan_.steps[index], touch);
        }
        std::vector<Buffer> buffer_of(values_, none), free;
        const auto take = [&](std::uint32_t value) {
            if (free.empty()) {
                buffer_of[value] = static_cast<Buffer>(plan_.buffers++);
            } else {
                buffer_of[value] = free.back();
                free.pop_back();
            }
        };
        for (const auto& [value, constant] : constants_) {
            take(value);
            last_use[value] = plan_.steps.size();
            plan_.constants.push_back({buffer_of[value], constant});
        }
        for (std::size_t index = 0; index < plan_.steps.size(); ++index) {
            auto& step = plan_.steps[index];
            std::vector<std::uint32_t> written, ended;
            const auto end = [&](std::uint32_t value) {
                if (last_use[value] == index && std::ranges::find(ended, value) == ended.end())
                    ended.push_back(value);
            };
            for_each_read(step, [&](Buffer& value) {
                end(value);
                value = buffer_of[value];
            });
            // Arithmetic may write over its operands; an estimator may not.
            const bool in_place = std::holds_alternative<Calculate>(step);
            if (in_place)
                for (const auto value : ended)
                    free.push_back(buffer_of[value]);
            for_each_written(step, [&](Buffer& value) {
                take(value);
                written.push_back(value);
                value = buffer_of[value];
            });
            if (!in_place)
                for (const auto value : ended)
                    free.push_back(buffer_of[value]);
            for (const auto value : written)
                if (last_use[value] == index)
                    free.push_back(buffer_of[value]);
        }
    }

    const TrialModel& model_;
    const Graph& graph_;
    TrialPlan plan_;
    std::uint32_t values_ = 0;
    std::vector<std::uint32_t> value_of_node_;
    std::vector<std::pair<std::uint32_t, double>> constants_;
    std::vector<Node> stack_;
};

}  // namespace

TrialModel::TrialModel(const Graph& graph, std::uint64_t seed)
    : graph_(&graph), is_constant_(graph.operations().size())
{
    const auto operations = graph.operations();
    for (std::size_t index = 0; index < operations.size(); ++index) {
        const auto& operand = operations[index];
        const int operands = operand_count(operand.operation);
        if (operand.operation == Operation::input)
            is_constant_[index] = graph.inputs()[operand.left].standard_uncertainty == 0.0;
        else if (operand.operation == Operation::estimate)
            is_constant_[index] = std::ranges::all_of(graph.calls()[operand.left].arguments,
                                                      [&](Node node) { return is_constant(node); });
        else
            is_constant_[index] =
                (operands < 1 || is_constant_[operand.left]) && (operands < 2 || is_constant_[operand.right]);
    }
    find_smallest_degrees_of_freedom();
    for (const auto& quantity : graph.inputs())
        keys_.push_back(stream_key(seed, quantity.identity));
    for (const auto& group : graph.groups()) {
        factors_.push_back(cholesky(group));
        group_keys_.push_back(stream_key(seed, "group " + group.identity));
    }
}

void TrialModel::find_smallest_degrees_of_freedom()
{
    const auto operations = graph_->operations();
    smallest_nu_.assign(operations.size(), infinite);
    for (std::size_t index = 0; index < operations.size(); ++index) {
        const auto& operand = operations[index];
        double& smallest = smallest_nu_[index];
        if (is_constant_[index])
            continue;
        if (operand.operation == Operation::input) {
            const auto& quantity = graph_->inputs()[operand.left];
            const auto group = graph_->group_of(Input{operand.left});
            if (group)
                smallest = graph_->groups()[*group].degrees_of_freedom;
            else if (quantity.distribution == Distribution::normal ||
                     quantity.distribution == Distribution::student_t)
                smallest = quantity.degrees_of_freedom;
        } else if (operand.operation == Operation::estimate) {
            for (const Node argument : graph_->calls()[operand.left].arguments)
                smallest = std::min(smallest, smallest_nu_[argument.index]);
        } else {
            smallest = smallest_nu_[operand.left];
            if (operand_count(operand.operation) > 1)
                smallest = std::min(smallest, smallest_nu_[operand.right]);
        }
    }
}

std::uint64_t TrialModel::key(std::size_t group, std::size_t pair) const
{
    return SplitMix64(group_keys_[group] + pair).next();
}

TrialPlan plan_trials(const TrialModel& model, std::span<const Node> targets)
{
    Planner planner(model);
    for (std::size_t index = 0; index < targets.size(); ++index)
        planner.add_target(index, targets[index]);
    return std::move(planner).take();
}

}  // namespace luxdossier::uncertainty
