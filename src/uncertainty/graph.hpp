#pragma once

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
    std::string note;  ///< provenance: certificate, clause, "class limit", log ...
    double shape = 0;  ///< trapezoidal only: ratio of top to base
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

/// Helper cells of a workbook. Each formula is spreadsheet text without the leading "=", in which {iK} stands
/// for the K-th input of the call and {cK} for the K-th helper cell (an earlier one); `outputs` names the
/// cell of each output. The helper cells of a plan stand below one another, so that {cJ}:{cK} is a range. A
/// formula may use only functions that Excel 2010 and LibreOffice 7 share.
struct CellPlan {
    struct Cell {
        std::string label;
        std::string formula;
    };
    std::vector<Cell> cells;
    std::vector<std::size_t> outputs;
    /// Derivative of output K with respect to input J at [K * inputs + J], in which {oK} also stands for the
    /// cell of the K-th output; "0" where there is none. Empty: the workbook stores the numbers and says so.
    std::vector<std::string> derivatives;
    bool stored = false;  ///< true where a spreadsheet cannot follow: outputs are then written as values
    std::string stored_reason;
};

/// An estimator: n inputs, m outputs, such as a straight-line fit or the crossing of a curve. A value:
/// immutable.
class Estimator {
public:
    virtual ~Estimator() = default;
    [[nodiscard]] virtual std::string_view name() const = 0;  ///< as printed in a formula: "weighted line"
    [[nodiscard]] virtual std::size_t output_count() const = 0;
    virtual void evaluate(std::span<const double> inputs, std::span<double> outputs) const = 0;
    /// Vector-Jacobian product: adds to input_adjoints the sum over outputs of adjoint * d(output)/d(input).
    virtual void pull_back(std::span<const double> inputs, std::span<const double> output_adjoints,
                           std::span<double> input_adjoints) const = 0;
    /// Printed name of one output: "gain".
    [[nodiscard]] virtual std::string output_name(std::size_t output) const = 0;
    [[nodiscard]] virtual CellPlan cell_plan(std::size_t input_count) const;  ///< default: stored
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
    /// All sensitivity coefficients of one result, in one reverse sweep over what lies upstream of it; one
    /// entry per input that is upstream (also where the coefficient is 0), sorted by input.
    [[nodiscard]] std::vector<Sensitivity> sensitivities(Node result) const;
    /// The nodes upstream of a result, the result included, in topological order.
    [[nodiscard]] std::vector<Node> upstream(Node result) const;

private:
    friend class GraphBuilder;
    friend class Expression;
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

class GraphBuilder;

/// A node with the builder it belongs to: lets C++ operators write models. Copy freely; valid while the
/// builder lives.
class Expression {
public:
    Expression() = default;
    Expression(GraphBuilder& builder, Node node) : builder_(&builder), node_(node) {}
    [[nodiscard]] Node node() const { return node_; }
    [[nodiscard]] double value() const;
    [[nodiscard]] GraphBuilder& builder() const { return *builder_; }
    /// Gives the node a printed symbol; returns itself. A constant becomes a node of its own first: equal
    /// constants share one node and must not share the symbol.
    Expression named(std::string symbol) const;

private:
    GraphBuilder* builder_ = nullptr;
    Node node_;
};

/// Builds a graph; values are known while building, so that a model may be chosen by its estimates.
/// Arithmetic outside its domain (0/0, the logarithm of a negative value) gives NaN or infinity as IEEE 754
/// has it. Errors: std::domain_error for a negative or non-finite uncertainty, a non-finite estimate, an
/// identity that was used before with another statement, a group that is no covariance of its members (wrong
/// size, variances other than u^2, not positive semi-definite), an input in two groups, a negative base whose
/// exponent is uncertain.
class GraphBuilder {
public:
    GraphBuilder();
    /// An input quantity; the same identity with the same statement gives the same node.
    Expression input(const InputQuantity& quantity);
    Expression constant(double value);
    /// Outputs of one estimator call.
    std::vector<Expression> estimate(std::shared_ptr<const Estimator> estimator,
                                     std::span<const Expression> arguments);
    void group(InputGroup group);
    /// The input behind an expression that is an input node.
    [[nodiscard]] Input input_of(const Expression& expression) const;
    [[nodiscard]] const Graph& graph() const
    {
        return graph_;
    }  ///< as built so far: sensitivities may be asked for
    [[nodiscard]] Graph freeze() &&;

private:
    friend class Expression;
    friend Expression apply(Operation operation, const Expression& left, const Expression& right);
    friend Expression apply(Operation operation, const Expression& operand);
    Expression append(Operand operand, double value);
    Graph graph_;
    std::unordered_map<double, std::uint32_t> constants_;
};

/// Derivatives where there is none: |x| at 0 has 0; minimum and maximum of equal operands follow the left
/// one.
[[nodiscard]] Expression apply(Operation operation, const Expression& left, const Expression& right);
[[nodiscard]] Expression apply(Operation operation, const Expression& operand);

[[nodiscard]] Expression operator+(const Expression& a, const Expression& b);
[[nodiscard]] Expression operator-(const Expression& a, const Expression& b);
[[nodiscard]] Expression operator*(const Expression& a, const Expression& b);
[[nodiscard]] Expression operator/(const Expression& a, const Expression& b);
[[nodiscard]] Expression operator-(const Expression& a);
[[nodiscard]] Expression operator+(const Expression& a, double b);
[[nodiscard]] Expression operator-(const Expression& a, double b);
[[nodiscard]] Expression operator*(const Expression& a, double b);
[[nodiscard]] Expression operator/(const Expression& a, double b);
[[nodiscard]] Expression operator+(double a, const Expression& b);
[[nodiscard]] Expression operator-(double a, const Expression& b);
[[nodiscard]] Expression operator*(double a, const Expression& b);
[[nodiscard]] Expression operator/(double a, const Expression& b);
[[nodiscard]] Expression power(const Expression& base, const Expression& exponent);
[[nodiscard]] Expression power(const Expression& base, double exponent);
[[nodiscard]] Expression square_root(const Expression& a);
[[nodiscard]] Expression exponential(const Expression& a);
[[nodiscard]] Expression natural_logarithm(const Expression& a);
[[nodiscard]] Expression sine(const Expression& a);
[[nodiscard]] Expression cosine(const Expression& a);
[[nodiscard]] Expression tangent(const Expression& a);
[[nodiscard]] Expression arcsine(const Expression& a);
[[nodiscard]] Expression arccosine(const Expression& a);
[[nodiscard]] Expression arctangent(const Expression& a);
[[nodiscard]] Expression absolute_value(const Expression& a);
[[nodiscard]] Expression minimum(const Expression& a, const Expression& b);
[[nodiscard]] Expression maximum(const Expression& a, const Expression& b);

}  // namespace luxdossier::uncertainty
