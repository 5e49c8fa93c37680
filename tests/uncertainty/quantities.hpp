#pragma once

#include "uncertainty/graph.hpp"

#include <string>

namespace luxdossier::test {

/// An input quantity for tests: its identity is its symbol.
[[nodiscard]] inline uncertainty::InputQuantity quantity(const std::string& symbol, double estimate, double u,
                                                         double nu = uncertainty::infinite)
{
    uncertainty::InputQuantity input;
    input.identity = symbol;
    input.quantity = symbol;
    input.symbol = symbol;
    input.unit = "1";
    input.estimate = estimate;
    input.standard_uncertainty = u;
    input.degrees_of_freedom = nu;
    return input;
}

}  // namespace luxdossier::test
