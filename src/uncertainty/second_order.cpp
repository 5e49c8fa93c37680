#include "uncertainty/second_order.hpp"

#include <algorithm>
#include <limits>
#include <stdexcept>
#include <vector>

namespace luxdossier::uncertainty {
namespace {

/// The uncertain inputs of a result, with values that can be moved away from the estimates.
class Neighbourhood {
public:
    Neighbourhood(const Graph& graph, Node result) : graph_(graph), nodes_(graph.upstream(result))
    {
        for (const auto& input : graph.inputs())
            values_.push_back(input.estimate);
        for (const Node node : nodes_) {
            const auto& operand = graph.operations()[node.index];
            if (operand.operation == Operation::input && u(Input{operand.left}) > 0.0)
                inputs_.push_back(Input{operand.left});
        }
    }
    [[nodiscard]] std::size_t size() const { return inputs_.size(); }
    [[nodiscard]] Input input(std::size_t index) const { return inputs_[index]; }
    [[nodiscard]] double u(Input input) const { return graph_.inputs()[input.index].standard_uncertainty; }

    /// The result with input i moved by `a` standard uncertainties and input j by `b`.
    [[nodiscard]] double at(std::size_t i, double a, std::size_t j, double b)
    {
        auto& first = values_[inputs_[i].index];
        auto& second = values_[inputs_[j].index];
        const double first_before = first, second_before = second;
        first += a * u(inputs_[i]);
        second += b * u(inputs_[j]);
        double value = std::numeric_limits<double>::quiet_NaN();
        try {
            value = graph_.evaluate(values_, nodes_);
        } catch (const std::domain_error&) {  // an estimator that is not defined there
        }
        second = second_before;
        first = first_before;
        return value;
    }

private:
    const Graph& graph_;
    std::vector<Node> nodes_;
    std::vector<Input> inputs_;
    std::vector<double> values_;
};

/// Correlation of two inputs.
double correlation(const Graph& graph, Input a, Input b)
{
    if (a == b)
        return 1.0;
    const auto group = graph.group_of(a);
    if (!group || graph.group_of(b) != group)
        return 0.0;
    const auto& members = graph.groups()[*group].members;
    const auto row = static_cast<std::size_t>(std::ranges::find(members, a) - members.begin());
    const auto column = static_cast<std::size_t>(std::ranges::find(members, b) - members.begin());
    return graph.groups()[*group].covariance[row * members.size() + column] /
           (graph.inputs()[a.index].standard_uncertainty * graph.inputs()[b.index].standard_uncertainty);
}

}  // namespace

double second_order_variance(const Graph& graph, Node result)
{
    Neighbourhood near(graph, result);
    const auto n = near.size();
    const double centre = graph.value(result);
    std::vector<double> hessian(n * n, 0.0), product(n * n, 0.0);  // H in units of u; H times correlations
    for (std::size_t i = 0; i < n; ++i) {
        hessian[i * n + i] = near.at(i, 1.0, i, 0.0) - 2.0 * centre + near.at(i, -1.0, i, 0.0);
        for (std::size_t j = 0; j < i; ++j)
            hessian[i * n + j] = hessian[j * n + i] = (near.at(i, 1.0, j, 1.0) - near.at(i, 1.0, j, -1.0) -
                                                       near.at(i, -1.0, j, 1.0) + near.at(i, -1.0, j, -1.0)) /
                                                      4.0;
    }
    for (std::size_t j = 0; j < n; ++j)
        for (std::size_t k = 0; k < n; ++k)  // few inputs are correlated
            if (const double r = correlation(graph, near.input(k), near.input(j)); r != 0.0)
                for (std::size_t i = 0; i < n; ++i)
                    product[i * n + j] += hessian[i * n + k] * r;
    double trace = 0.0;
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j)
            trace += product[i * n + j] * product[j * n + i];
    return trace / 2.0;
}

}  // namespace luxdossier::uncertainty
