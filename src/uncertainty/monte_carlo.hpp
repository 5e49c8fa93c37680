#pragma once

#include "uncertainty/block_kernels.hpp"
#include "uncertainty/graph.hpp"
#include "uncertainty/propagation.hpp"
#include "uncertainty/tally.hpp"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace luxdossier::uncertainty {

/// How the Monte Carlo method is applied. Neither `threads` nor `kernels` changes a bit of what it gives.
struct MonteCarloSettings {
    double coverage_probability = 0.9545;
    int significant_digits = 2;  ///< that the ends of an interval are to be good to
    bool shortest = false;       ///< shortest interval instead of the probabilistically symmetric one
    std::uint64_t seed = 1;
    std::size_t largest_trials = 2'000'000;   ///< of one result; two blocks are made in any case
    std::size_t validation_trials = 250'000;  ///< at most, to validate the first order
    std::size_t threads = 0;                  ///< 0: as many as the machine has
    const BlockKernels* kernels = nullptr;    ///< null: the widest that the machine can run
};

/// A result to be evaluated.
struct MonteCarloTarget {
    Node node;
    /// What the law of propagation gave, to be validated; absent: nothing to validate.
    std::optional<Combined> first_order;
    /// Stops when the first order is validated, as then its interval is reported; otherwise the trials go on
    /// until the ends have their digits.
    bool stop_when_validated = false;
};

/// A requirement lower <= y <= upper on a target; infinite where there is no limit. Requirements of one set
/// (those on one sample) are also asked of together.
struct Requirement {
    std::size_t target = 0;
    double lower = -infinite;
    double upper = infinite;
    std::size_t set = 0;
};

/// Comparison of the first-order interval with that of the Monte Carlo method.
///
/// Source: JCGM 101:2008, 8.1, with delta for one digit of u and a numerical tolerance of delta/5 (8.2).
struct Validation {
    bool validated = false;
    double delta = 0;
    double d_low = 0, d_high = 0;  ///< |y -+ U - end|
    double numerical_tolerance = 0;
    bool reached = false;  ///< the numerical tolerance is at most delta/5
};

struct MonteCarloResult {
    std::size_t trials = 0;
    double mean = 0;
    /// Absent where an input has a t of two or fewer degrees of freedom, which has no variance, or where a
    /// trial was not finite.
    std::optional<double> standard_uncertainty;
    std::optional<Ends> interval;  ///< absent where the trials show none
    bool is_shortest = false;
    double numerical_tolerance = 0;  ///< of the ends: twice the standard deviation of their mean over blocks
    double asked_tolerance = 0;      ///< delta for the stated digits
    bool converged = false;          ///< the first is below the second
    std::size_t undefined = 0;       ///< trials in which the model is not defined
    std::optional<Validation> validation;
};

struct JointProbability {
    double probability = 0;
    std::size_t trials = 0;  ///< common to all results that are asked of; 0: no requirement
};

struct MonteCarlo {
    std::vector<MonteCarloResult> results;  ///< one a target
    std::vector<double> probabilities;      ///< of each requirement, over all trials of its target
    std::vector<JointProbability> sets;     ///< that all requirements of a set hold together
    JointProbability all;                   ///< that all hold together
    std::size_t trials_per_block = 0;
    std::size_t trials = 0;  ///< of the result that took the most
};

/// Propagation of distributions over all targets at once: each input is drawn once a trial for all of them.
///
/// Adaptive: blocks of M = max(100/(1 - p), 10^4) trials, in order, until twice the standard deviation of the
/// mean of either end of the interval over the blocks is below the tolerance of the stated digits. Differs
/// from 7.9.4: tested from the fifth block on, because the scatter of two blocks says too little; the ends
/// alone are tested, as mean and u settle before them; M is a multiple of 512, at most 65 024. A result
/// that has settled stops, and takes its inputs with it that no other needs; what is drawn for one result
/// does not depend on the others. No sample is kept: trials are counted on a grid that the first 1024 set, of
/// which a cell is about 1/130 of u; results whose ends lie outside it begin anew on a wider one. The ends of
/// a shortest interval scatter along a flat minimum; whether they have settled is judged by the symmetric
/// ones. A normal input with finite degrees of freedom is drawn as a t (6.4.9.7), a stated correlated group
/// as normal or multivariate t whatever its members (6.4.8).
///
/// Source: JCGM 101:2008, clauses 6 to 8.
[[nodiscard]] MonteCarlo run_monte_carlo(const Graph& graph, std::span<const MonteCarloTarget> targets,
                                         std::span<const Requirement> requirements,
                                         const MonteCarloSettings& settings);

}  // namespace luxdossier::uncertainty
