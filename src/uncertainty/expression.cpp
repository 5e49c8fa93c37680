#include "uncertainty/expression.hpp"

#include "uncertainty/derivative.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::uncertainty {
namespace {

void check_statement(const InputQuantity& quantity)
{
    if (quantity.identity.empty())
        throw std::domain_error(
            fmt::format("found an input quantity \"{}\" without an identity", quantity.quantity));
    if (!std::isfinite(quantity.estimate))
        throw std::domain_error(fmt::format("found estimate {} of input {}, expected a finite value",
                                            quantity.estimate, quantity.identity));
    if (!std::isfinite(quantity.standard_uncertainty) || quantity.standard_uncertainty < 0.0)
        throw std::domain_error(fmt::format("found standard uncertainty {} of input {}, expected 0 or more",
                                            quantity.standard_uncertainty, quantity.identity));
    if (!(quantity.degrees_of_freedom > 0.0))
        throw std::domain_error(fmt::format("found {} degrees of freedom of input {}, expected more than 0",
                                            quantity.degrees_of_freedom, quantity.identity));
}

/// How far a correlation matrix may miss being positive semi-definite by rounding of the readings'
/// statistics.
constexpr double pivot_tolerance = 1e-10;

/// Two members whose covariances contradict the others (or each other): elimination of the correlation matrix
/// meets a negative pivot. Empty where the matrix is positive semi-definite.
std::optional<std::pair<std::size_t, std::size_t>> contradicting_pair(std::vector<double> matrix,
                                                                      std::size_t size)
{
    const auto at = [&](std::size_t row, std::size_t column) -> double& {
        return matrix[row * size + column];
    };
    const auto correlations = matrix;
    const auto partner = [&](std::size_t member) {
        std::size_t strongest = member == 0 ? 1 : 0;
        for (std::size_t other = 0; other < size; ++other)
            if (other != member && std::abs(correlations[member * size + other]) >
                                       std::abs(correlations[member * size + strongest]))
                strongest = other;
        return std::pair{std::min(member, strongest), std::max(member, strongest)};
    };
    for (std::size_t pivot = 0; pivot < size; ++pivot) {
        if (at(pivot, pivot) < -pivot_tolerance)
            return partner(pivot);
        for (std::size_t row = pivot + 1; row < size; ++row) {
            if (at(pivot, pivot) <= pivot_tolerance) {
                if (std::abs(at(row, pivot)) > std::sqrt(pivot_tolerance))
                    return std::pair{pivot, row};
                continue;
            }
            const double factor = at(row, pivot) / at(pivot, pivot);
            for (std::size_t column = pivot + 1; column < size; ++column)
                at(row, column) -= factor * at(pivot, column);
        }
    }
    return std::nullopt;
}

/// Checks a group's matrix against its members and turns it into correlations; members with u = 0 have none.
std::vector<double> correlations_of(const InputGroup& group, std::span<const InputQuantity> inputs)
{
    const auto size = group.members.size();
    if (group.covariance.size() != size * size)
        throw std::domain_error(fmt::format("found {} covariances in group {} of {} inputs, expected {}",
                                            group.covariance.size(), group.identity, size, size * size));
    std::vector<double> correlations(size * size, 0.0);
    for (std::size_t row = 0; row < size; ++row) {
        const auto& a = inputs[group.members[row].index];
        const double variance = a.standard_uncertainty * a.standard_uncertainty;
        if (!(std::abs(group.covariance[row * size + row] - variance) <= 1e-9 * variance))
            throw std::domain_error(fmt::format("found variance {} of {} in group {}, expected its u^2 = {}",
                                                group.covariance[row * size + row], a.identity,
                                                group.identity, variance));
        for (std::size_t column = 0; column < size; ++column) {
            const auto& b = inputs[group.members[column].index];
            const double scale = a.standard_uncertainty * b.standard_uncertainty;
            const double covariance = group.covariance[row * size + column];
            const double mirrored = group.covariance[column * size + row];
            if (!(std::abs(covariance - mirrored) <= 1e-12 * scale) || (scale == 0.0 && covariance != 0.0))
                throw std::domain_error(
                    fmt::format("found covariances {} and {} of {} and {} in group {}, expected one "
                                "value, 0 where an uncertainty is 0",
                                covariance, mirrored, a.identity, b.identity, group.identity));
            correlations[row * size + column] =
                row == column ? 1.0 : (scale == 0.0 ? 0.0 : covariance / scale);
        }
    }
    return correlations;
}

}  // namespace

double Expression::value() const
{
    return builder_->graph_.value(node_);
}

Expression Expression::named(std::string symbol) const
{
    auto& graph = builder_->graph_;
    Expression target = *this;
    const auto operand = graph.operations_.at(node_.index);
    if (operand.operation == Operation::constant && graph.name(node_) != symbol)
        target = builder_->append(operand, operand.value);
    graph.names_[target.node_.index] = std::move(symbol);
    return target;
}

GraphBuilder::GraphBuilder() = default;

Expression GraphBuilder::append(Operand operand, double value)
{
    const Node node{static_cast<std::uint32_t>(graph_.operations_.size())};
    graph_.operations_.push_back(operand);
    graph_.values_.push_back(value);
    return {*this, node};
}

Expression GraphBuilder::input(const InputQuantity& quantity)
{
    check_statement(quantity);
    const auto index = static_cast<std::uint32_t>(graph_.inputs_.size());
    const auto [entry, is_new] = graph_.input_by_identity_.try_emplace(quantity.identity, index);
    if (!is_new) {
        if (!(graph_.inputs_[entry->second] == quantity))
            throw std::domain_error(
                fmt::format("found input {} with two statements, expected one", quantity.identity));
        return {*this, graph_.node_of_input_[entry->second]};
    }
    graph_.inputs_.push_back(quantity);
    graph_.group_of_input_.push_back(-1);
    const auto expression = append({Operation::input, index, 0, 0.0}, quantity.estimate);
    graph_.node_of_input_.push_back(expression.node());
    return expression;
}

Expression GraphBuilder::constant(double value)
{
    if (!std::isfinite(value))
        throw std::domain_error(fmt::format("found constant {}, expected a finite value", value));
    if (const auto known = constants_.find(value); known != constants_.end())
        return {*this, Node{known->second}};
    const auto expression = append({Operation::constant, 0, 0, value}, value);
    constants_.emplace(value, expression.node().index);
    return expression;
}

std::vector<Expression> GraphBuilder::estimate(std::shared_ptr<const Estimator> estimator,
                                               std::span<const Expression> arguments)
{
    EstimatorCall call{std::move(estimator), {}};
    std::vector<double> values;
    for (const auto& argument : arguments) {
        if (&argument.builder() != this)
            throw std::domain_error("found an argument of another graph, expected one of this graph");
        call.arguments.push_back(argument.node());
        values.push_back(argument.value());
    }
    std::vector<double> outputs(call.estimator->output_count(), 0.0);
    call.estimator->evaluate(values, outputs);
    const auto index = static_cast<std::uint32_t>(graph_.calls_.size());
    graph_.call_first_node_.push_back(static_cast<std::uint32_t>(graph_.operations_.size()));
    graph_.calls_.push_back(std::move(call));
    std::vector<Expression> expressions;
    for (std::uint32_t output = 0; output < outputs.size(); ++output)
        expressions.push_back(append({Operation::estimate, index, output, 0.0}, outputs[output]));
    return expressions;
}

void GraphBuilder::group(InputGroup group)
{
    for (const Input member : group.members)
        static_cast<void>(graph_.inputs_.at(member.index));
    if (!(group.degrees_of_freedom > 0.0))
        throw std::domain_error(fmt::format("found {} degrees of freedom of group {}, expected more than 0",
                                            group.degrees_of_freedom, group.identity));
    const auto correlations = correlations_of(group, graph_.inputs_);
    if (const auto pair = contradicting_pair(correlations, group.members.size()))
        throw std::domain_error(
            fmt::format("found correlation {:.6g} between {} and {} in group {}, which contradicts the other "
                        "correlations, expected a positive semi-definite matrix",
                        correlations[pair->first * group.members.size() + pair->second],
                        graph_.inputs_[group.members[pair->first].index].identity,
                        graph_.inputs_[group.members[pair->second].index].identity, group.identity));
    const auto index = static_cast<std::int32_t>(graph_.groups_.size());
    for (const Input member : group.members) {
        if (graph_.group_of_input_[member.index] != -1)
            throw std::domain_error(fmt::format(
                "found input {} in group {} and again in group {}, expected one group",
                graph_.inputs_[member.index].identity,
                graph_.group_of_input_[member.index] == index
                    ? group.identity
                    : graph_.groups_[static_cast<std::size_t>(graph_.group_of_input_[member.index])].identity,
                group.identity));
        graph_.group_of_input_[member.index] = index;
    }
    graph_.groups_.push_back(std::move(group));
}

Input GraphBuilder::input_of(const Expression& expression) const
{
    const auto& operand = graph_.operations_.at(expression.node().index);
    if (operand.operation != Operation::input)
        throw std::domain_error("found an expression that is computed, expected an input quantity");
    return Input{operand.left};
}

Graph GraphBuilder::freeze() &&
{
    return std::move(graph_);
}

Expression apply(Operation operation, const Expression& left, const Expression& right)
{
    auto& builder = left.builder();
    if (&right.builder() != &builder)
        throw std::domain_error("found operands of two graphs, expected one graph");
    const auto& graph = builder.graph();
    if (operation == Operation::power && left.value() < 0.0 &&
        graph.operations()[right.node().index].operation != Operation::constant) {
        for (const Node node : graph.upstream(right.node()))
            if (graph.operations()[node.index].operation == Operation::input)
                throw std::domain_error(fmt::format(
                    "found base {} with an uncertain exponent, expected a base above 0", left.value()));
    }
    return builder.append({operation, left.node().index, right.node().index, 0.0},
                          operation_value(operation, left.value(), right.value()));
}

Expression apply(Operation operation, const Expression& operand)
{
    return operand.builder().append({operation, operand.node().index, operand.node().index, 0.0},
                                    operation_value(operation, operand.value(), operand.value()));
}

Expression operator+(const Expression& a, const Expression& b)
{
    return apply(Operation::add, a, b);
}
Expression operator-(const Expression& a, const Expression& b)
{
    return apply(Operation::subtract, a, b);
}
Expression operator*(const Expression& a, const Expression& b)
{
    return apply(Operation::multiply, a, b);
}
Expression operator/(const Expression& a, const Expression& b)
{
    return apply(Operation::divide, a, b);
}
Expression operator-(const Expression& a)
{
    return apply(Operation::negate, a);
}
Expression operator+(const Expression& a, double b)
{
    return a + a.builder().constant(b);
}
Expression operator-(const Expression& a, double b)
{
    return a - a.builder().constant(b);
}
Expression operator*(const Expression& a, double b)
{
    return a * a.builder().constant(b);
}
Expression operator/(const Expression& a, double b)
{
    return a / a.builder().constant(b);
}
Expression operator+(double a, const Expression& b)
{
    return b.builder().constant(a) + b;
}
Expression operator-(double a, const Expression& b)
{
    return b.builder().constant(a) - b;
}
Expression operator*(double a, const Expression& b)
{
    return b.builder().constant(a) * b;
}
Expression operator/(double a, const Expression& b)
{
    return b.builder().constant(a) / b;
}
Expression power(const Expression& base, const Expression& exponent)
{
    return apply(Operation::power, base, exponent);
}
Expression power(const Expression& base, double exponent)
{
    return power(base, base.builder().constant(exponent));
}
Expression square_root(const Expression& a)
{
    return apply(Operation::square_root, a);
}
Expression exponential(const Expression& a)
{
    return apply(Operation::exponential, a);
}
Expression natural_logarithm(const Expression& a)
{
    return apply(Operation::natural_logarithm, a);
}
Expression sine(const Expression& a)
{
    return apply(Operation::sine, a);
}
Expression cosine(const Expression& a)
{
    return apply(Operation::cosine, a);
}
Expression tangent(const Expression& a)
{
    return apply(Operation::tangent, a);
}
Expression arcsine(const Expression& a)
{
    return apply(Operation::arcsine, a);
}
Expression arccosine(const Expression& a)
{
    return apply(Operation::arccosine, a);
}
Expression arctangent(const Expression& a)
{
    return apply(Operation::arctangent, a);
}
Expression absolute_value(const Expression& a)
{
    return apply(Operation::absolute_value, a);
}
Expression minimum(const Expression& a, const Expression& b)
{
    return apply(Operation::minimum, a, b);
}
Expression maximum(const Expression& a, const Expression& b)
{
    return apply(Operation::maximum, a, b);
}

}  // namespace luxdossier::uncertainty
