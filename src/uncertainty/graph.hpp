#pragma once

#include "uncertainty/estimator.hpp"

#include <cstddef>
#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <unordered_map>
#include <vector>

namespace luxdossier::uncertainty {

inline constexpr double infinite = std::numeric_limits<double>::infinity();

/// A node of the measurement model: an index into the arena of one Graph.
struct Node {
    std::uint32_t index = 0;
    auto operator<=>(const Node&) const = default;
};

/// An input quantity: an index into Graph::inputs().
struct Input {
    std::uint32_t index = 0;
    auto operator<=>(const Input&) const = default;
};

enum class Distribution { normal, rectangular, triangular, arcsine, trapezoidal, student_t };
/// "normal", "rectangular", ... "t": as records and budgets name a distribution.
[[nodiscard]] std::string_view distribution_text(Distribution distribution);
enum class Evaluation { type_a, type_b };

/// An input quantity of a measurement model (JCGM 100:2008, 4.1.2): one that is not computed from others.
struct InputQuantity {
    std::string identity;  ///< stable text, for example "meter:M1/certificate:K-17/common"; unique in a graph
    std::string quantity;  ///< in words, for the budget: "certificate of meter, common part"
    std::string symbol;    ///< plain text with _ for a subscript: "C_common"
    std::string unit;      ///< canonical: "lx", "1", "m", "s", "rad", "K" ...
    double estimate = 0;
    double standard_uncertainty = 0;  ///< never negative
    Distribution distribution = Distribution::normal;
    Evaluation evaluation = Evaluation::type_b;
    double degrees_of_freedom = infinite;
    std::string note;            ///< provenance: certificate, clause, "class limit", log ...
    double shape = 0;            ///< trapezoidal only: ratio of top to base
    bool from_readings = false;  ///< Type B whose half-width was taken from readings, fixed at the estimate
    bool operator==(const InputQuantity&) const = default;
};

/// Inputs that make one term of the Welch-Satterthwaite formula: readings taken together (covariance from the
/// pairs), sets that share a pooled standard deviation, or correlated groups that were stated.
struct InputGroup {
    enum class Kind { observed_together, pooled, stated };
    Kind kind = Kind::observed_together;
    std::string identity;
    std::vector<Input> members;
    std::vector<double> covariance;  ///< of the estimates, row-major, members x members
    double degrees_of_freedom = infinite;
};

enum class Operation : std::uint8_t {
    input,
    constant,
    add,
    subtract,
    multiply,
    divide,
    negate,
    power,
    square_root,
    exponential,
    natural_logarithm,
    sine,
    cosine,
    tangent,
    arcsine,
    arccosine,
    arctangent,
    absolute_value,
    minimum,
    maximum,
    estimate,  ///< one output of an estimator call
};

/// One operation of the arena. Operands of binary operations are left and right; unary ones use left.
/// input: left is the index of the input. constant: value. estimate: left is the index of the call, right the
/// output.
struct Operand {
    Operation operation = Operation::constant;
    std::uint32_t left = 0;
    std::uint32_t right = 0;
    double value = 0;  ///< constants only
};

struct EstimatorCall {
    std::shared_ptr<const Estimator> estimator;
    std::vector<Node> arguments;
};

/// A sensitivity coefficient of a result: d(result)/d(input).
struct Sensitivity {
    Input input;
    double coefficient = 0;
};

/// A frozen measurement model: an arena of operations in topological order (operands come first), the input
/// quantities, and their groups. All results of one qualification share one graph, so that results that share
/// an input are correlated through it.
class Graph {
public:
    Graph() = default;
    [[nodiscard]] std::span<const InputQuantity> inputs() const { return inputs_; }
    [[nodiscard]] std::span<const InputGroup> groups() const { return groups_; }
    [[nodiscard]] std::span<const Operand> operations() const { return operations_; }
    [[nodiscard]] std::span<const EstimatorCall> calls() const { return calls_; }
    /// Printed names that were given to nodes (symbols such as "E" or "C"); empty where none was given.
    [[nodiscard]] std::string_view name(Node node) const;
    [[nodiscard]] std::optional<std::size_t> group_of(Input input) const;
    [[nodiscard]] std::optional<Input> find_input(std::string_view identity) const;
    [[nodiscard]] Node node_of(Input input) const { return node_of_input_.at(input.index); }
    /// Value of a node at the estimates of the inputs.
    [[nodiscard]] double value(Node node) const { return values_.at(node.index); }
    [[nodiscard]] std::span<const double> values() const { return values_; }
    /// Values of all nodes for other input values (one per input): for tests and cross-checks.
    [[nodiscard]] std::vector<double> evaluate(std::span<const double> input_values) const;
    /// Value of the last of these nodes for other input values, which are those of upstream() of that node.
    [[nodiscard]] double evaluate(std::span<const double> input_values, std::span<const Node> upstream) const;
    /// All sensitivity coefficients of one result, in one reverse sweep over what lies upstream of it; one
    /// entry per input that is upstream (also where the coefficient is 0), sorted by input.
    [[nodiscard]] std::vector<Sensitivity> sensitivities(Node result) const;
    /// The nodes upstream of a result, the result included, in topological order.
    [[nodiscard]] std::vector<Node> upstream(Node result) const;

private:
    friend class GraphBuilder;
    friend class Expression;  // expression.hpp
    void evaluate(std::span<const double> input_values, std::span<const Node> nodes,
                  std::vector<double>& values) const;
    std::vector<Operand> operations_;
    std::vector<double> values_;
    std::vector<InputQuantity> inputs_;
    std::vector<InputGroup> groups_;
    std::vector<EstimatorCall> calls_;
    std::vector<std::uint32_t> call_first_node_;  ///< node of output 0 of each call
    std::vector<Node> node_of_input_;
    std::vector<std::int32_t> group_of_input_;  ///< -1: none
    std::unordered_map<std::uint32_t, std::string> names_;
    std::unordered_map<std::string, std::uint32_t> input_by_identity_;
};

}  // namespace luxdossier::uncertainty
