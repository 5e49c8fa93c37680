#pragma once

#include "workbook/cell_map.hpp"

#include <optional>
#include <span>

namespace luxdossier::workbook {

/// Formula of a cell plan with the cells of this workbook in the places of {iK}, {cK} and {oK}; "{cJ}:{cK}"
/// becomes a range.
[[nodiscard]] std::string plan_formula(const uncertainty::Graph& graph, const CellMap& map, std::size_t call,
                                       std::string_view pattern);

/// The same with these texts in the places of {iK}.
[[nodiscard]] std::string filled_in(std::string_view pattern, std::span<const std::string> operands);

/// Values of the helper cells of a plan, one after the other; empty where a formula uses what plans may not
/// use, or gives no finite number. Ranges of helper cells and arithmetic on them count element by element, as
/// in SUMPRODUCT.
[[nodiscard]] std::optional<std::vector<double>> plan_values(const uncertainty::CellPlan& plan,
                                                             std::span<const double> inputs);

}  // namespace luxdossier::workbook
