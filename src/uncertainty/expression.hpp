#pragma once

#include "uncertainty/graph.hpp"

#include <memory>
#include <span>
#include <string>
#include <unordered_map>
#include <vector>

namespace luxdossier::uncertainty {

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
