#pragma once

#include <algorithm>
#include <cstddef>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::uncertainty {

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
    /// evaluate() for many trials: inputs[k][t] is input k in trial t, outputs likewise. A trial in which the
    /// estimator is not defined (std::domain_error) gives NaN. The default goes trial by trial; an estimator
    /// that overrides it gives the same bits on every machine.
    virtual void evaluate_trials(std::span<const double* const> inputs, std::span<double* const> outputs,
                                 std::size_t trials) const;
    /// Vector-Jacobian product: adds to input_adjoints the sum over outputs of adjoint * d(output)/d(input).
    virtual void pull_back(std::span<const double> inputs, std::span<const double> output_adjoints,
                           std::span<double> input_adjoints) const = 0;
    /// Printed name of one output: "gain".
    [[nodiscard]] virtual std::string output_name(std::size_t output) const = 0;
    [[nodiscard]] virtual CellPlan cell_plan(std::size_t input_count) const;  ///< default: stored
};

/// Calls visit(trial, arguments) for every trial, its inputs side by side; inputs[k][t] is input k in trial
/// t. They are gathered for eight trials at once: as many as share a cache line of each input.
template <class Visit>
void each_trial(std::span<const double* const> inputs, std::size_t trials, Visit&& visit)
{
    constexpr std::size_t most_together = 8;
    std::vector<double> gathered(most_together * inputs.size());
    for (std::size_t first = 0; first < trials; first += most_together) {
        const auto together = std::min(most_together, trials - first);
        for (std::size_t index = 0; index < inputs.size(); ++index)
            for (std::size_t trial = 0; trial < together; ++trial)
                gathered[trial * inputs.size() + index] = inputs[index][first + trial];
        for (std::size_t trial = 0; trial < together; ++trial)
            visit(first + trial,
                  std::span<const double>(gathered).subspan(trial * inputs.size(), inputs.size()));
    }
}

}  // namespace luxdossier::uncertainty
