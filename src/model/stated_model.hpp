#pragma once

#include "uncertainty/graph.hpp"

#include <optional>
#include <string>
#include <vector>

namespace luxdossier::model {

/// One step of an equation in the order in which it is computed: operands first (reverse Polish notation).
struct FormulaStep {
    uncertainty::Operation operation = uncertainty::Operation::constant;  ///< input: the value of a symbol
    double number = 0;                                                    ///< of a constant
    std::string symbol;                                                   ///< of an input
    bool operator==(const FormulaStep&) const = default;
};

/// An input quantity as a user states it. Values are in `unit` as written.
struct StatedInput {
    std::string symbol, quantity, unit, note;
    double estimate = 0;
    uncertainty::Distribution distribution = uncertainty::Distribution::normal;
    double standard_uncertainty = 0;
    double shape = 0;  ///< trapezoidal: ratio of top to base
    double degrees_of_freedom = uncertainty::infinite;
    std::vector<double> readings;      ///< distribution "readings": estimate and u come from them
    std::optional<double> resolution;  ///< of the readings, where stated
    bool time_ordered = false;
    bool operator==(const StatedInput&) const = default;
};

struct StatedCorrelation {
    std::string first, second;  ///< symbols
    double coefficient = 0;
    bool operator==(const StatedCorrelation&) const = default;
};

/// A measurement model that a user states: a result of its own, whose metric is the id.
struct StatedModel {
    std::string id, title, unit;
    std::string equation;  ///< as written
    std::vector<FormulaStep> formula;
    std::vector<StatedInput> inputs;
    std::vector<std::string> observed_together;  ///< symbols whose readings were taken together
    std::vector<StatedCorrelation> correlations;
    std::vector<std::string> unit_remarks;  ///< where the units of the equation do not fit
};

}  // namespace luxdossier::model
