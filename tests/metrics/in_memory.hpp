#pragma once

#include "model/evaluation.hpp"

#include <cmath>
#include <memory>
#include <numbers>
#include <random>
#include <string>
#include <vector>

namespace luxdossier::test {

inline constexpr double degree = std::numbers::pi / 180;

inline model::NumberColumn column(std::string meaning, std::string unit, std::vector<double> values)
{
    return {meaning, meaning, unit, unit, std::move(values)};
}

/// A run over all rows of a table made of number columns.
inline model::Run run_of(std::string id, model::RunKind kind, std::vector<model::NumberColumn> columns)
{
    auto table = std::make_shared<model::Table>();
    table->rows = columns.empty() ? 0 : columns.front().values.size();
    table->numbers = std::move(columns);
    model::Run run;
    run.id = std::move(id);
    run.kind = kind;
    for (std::uint32_t row = 0; row < table->rows; ++row)
        run.rows.push_back(row);
    run.table = std::move(table);
    run.time_ordered = false;
    return run;
}

inline model::Quantity quantity(double value, std::string unit, double standard_uncertainty)
{
    model::Quantity stated;
    stated.value = value;
    stated.unit = std::move(unit);
    stated.standard_uncertainty = standard_uncertainty;
    return stated;
}

/// The result with that id, or null.
inline const model::Result* find(const model::Evaluation& evaluation, std::string_view id)
{
    for (const auto& result : evaluation.results)
        if (result.id == id)
            return &result;
    return nullptr;
}

/// Largest miss of any sensitivity coefficient of a result against central differences of the whole graph, in
/// units of the combined standard uncertainty.
inline double worst_sensitivity(const model::Evaluation& evaluation, const model::Result& result,
                                double step_in_u = 1e-3)
{
    const auto& graph = evaluation.graph;
    std::vector<double> inputs;
    for (const auto& input : graph.inputs())
        inputs.push_back(input.estimate);
    double worst = 0;
    for (const auto& [input, coefficient] : graph.sensitivities(*result.node)) {
        const double u = graph.inputs()[input.index].standard_uncertainty;
        if (u == 0)
            continue;
        auto moved = inputs;
        moved[input.index] = inputs[input.index] + step_in_u * u;
        const double above = graph.evaluate(moved).at(result.node->index);
        moved[input.index] = inputs[input.index] - step_in_u * u;
        const double below = graph.evaluate(moved).at(result.node->index);
        const double difference = (above - below) / (2 * step_in_u * u);
        worst =
            std::max(worst, std::abs(difference - coefficient) * u / result.combined->standard_uncertainty);
    }
    return worst;
}

}  // namespace luxdossier::test
