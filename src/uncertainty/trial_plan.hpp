#pragma once

#include "uncertainty/block_kernels.hpp"
#include "uncertainty/graph.hpp"

#include <cstdint>
#include <span>
#include <variant>
#include <vector>

namespace luxdossier::uncertainty {

/// A buffer of one chunk of trials, counted from 0.
using Buffer = std::uint32_t;

/// Draws one input that belongs to no group (JCGM 101:2008, 6.4).
struct DrawInput {
    enum class Shape { rectangular, trapezoidal, arcsine, normal, student_t };
    Shape shape = Shape::normal;
    double location = 0;         ///< mean or centre; low end of a rectangle or trapezium
    double scale = 0;            ///< standard uncertainty or half-width; width of a rectangle or trapezium
    double shape_parameter = 0;  ///< degrees of freedom of a t; share of the longer rectangle of a trapezium
    std::uint32_t stream = 0;
    Buffer out = 0;
};

/// Draws the members of a group that a plan needs: multivariate t for readings, normal for stated
/// correlations (6.4.8, 6.4.9), as estimate + L z with the lower triangle L of Cholesky.
struct DrawGroup {
    struct Member {
        double estimate = 0;
        std::vector<double> row;  ///< row of L, up to the diagonal
        Buffer out = 0;
    };
    double degrees_of_freedom = infinite;
    std::vector<std::uint32_t> streams;  ///< one a pair of coordinates z
    std::vector<Member> members;
};

struct Calculate {
    Operation operation = Operation::add;
    /// Operands that are the same in all trials have no buffer.
    struct Source {
        bool is_constant = false;
        double constant = 0;
        Buffer buffer = 0;
    };
    Source left, right;
    bool is_binary = true;
    Buffer out = 0;
};

struct CallEstimator {
    const Estimator* estimator = nullptr;
    std::vector<Buffer> arguments;
    std::vector<Buffer> outputs;  ///< those that nobody needs share one buffer
};

/// The values of one target are there.
struct Observe {
    std::size_t target = 0;
    Buffer values = 0;
};

using Step = std::variant<DrawInput, DrawGroup, Calculate, CallEstimator, Observe>;

/// What a graph means for trials, found once: which nodes are the same in all of them, factors of Cholesky,
/// keys of the streams.
class TrialModel {
public:
    TrialModel(const Graph& graph, std::uint64_t seed);
    [[nodiscard]] const Graph& graph() const { return *graph_; }
    [[nodiscard]] bool is_constant(Node node) const { return is_constant_[node.index]; }
    /// Lower triangle of a group's covariance, row by row.
    [[nodiscard]] const std::vector<std::vector<double>>& factor(std::size_t group) const
    {
        return factors_[group];
    }
    [[nodiscard]] std::uint64_t key(Input input) const { return keys_[input.index]; }
    [[nodiscard]] std::uint64_t key(std::size_t group, std::size_t pair) const;
    /// Smallest degrees of freedom among the inputs of a node: a t of 2 or less has no variance.
    [[nodiscard]] double smallest_degrees_of_freedom(Node node) const { return smallest_nu_[node.index]; }

private:
    void find_smallest_degrees_of_freedom();
    const Graph* graph_;
    std::vector<bool> is_constant_;
    std::vector<double> smallest_nu_;
    std::vector<std::vector<std::vector<double>>> factors_;
    std::vector<std::uint64_t> keys_, group_keys_;
};

/// The order in which one chunk of trials of some targets is drawn and computed, and which buffers it takes:
/// each target follows what it needs, and a buffer is free again after its last use, so that a chunk stays in
/// the cache.
struct TrialPlan {
    std::vector<Step> steps;
    std::vector<std::uint64_t> stream_keys;
    std::size_t buffers = 0;
    struct Constant {
        Buffer buffer;
        double value;
    };
    std::vector<Constant> constants;  ///< buffers that keep one value
    std::size_t largest_group = 0;    ///< coordinates z
};

[[nodiscard]] TrialPlan plan_trials(const TrialModel& model, std::span<const Node> targets);

/// Runs a plan on blocks of trials; one a thread.
class TrialRunner {
public:
    TrialRunner(const TrialPlan& plan, const BlockKernels& kernels);
    /// The draws begin anew for each part of the trials: every half of a block.
    void start_streams(std::uint64_t part);
    /// Draws and computes one chunk; calls observe(target, values) for each target in the plan's order.
    template <class Observer>
    void run_chunk(Observer&& observe)
    {
        for (const auto& step : plan_->steps) {
            if (const auto* seen = std::get_if<Observe>(&step))
                observe(seen->target, static_cast<const double*>(at(seen->values)));
            else
                run(step);
        }
    }

private:
    [[nodiscard]] double* at(Buffer buffer) { return storage_[buffer].trials; }
    void run(const Step& step);
    void draw(const DrawInput& draw);
    void draw(const DrawGroup& draw);

    const TrialPlan* plan_;
    const BlockKernels* kernels_;
    std::vector<Stream> streams_;
    std::vector<Chunk> storage_;
    std::vector<Chunk> coordinates_;  ///< z of a group, then the sum of their squares
    std::vector<const double*> arguments_;
    std::vector<double*> outputs_;
};

}  // namespace luxdossier::uncertainty
