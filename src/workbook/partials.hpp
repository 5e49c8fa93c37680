#pragma once

#include "workbook/cell_map.hpp"

#include <optional>
#include <utility>

namespace luxdossier::workbook {

/// Derivatives of one arithmetic node with respect to its left and right operand, as factors of a formula;
/// right is empty for unary operations. Operands that are constants get none.
struct Partials {
    std::optional<Term> left, right;
};
[[nodiscard]] Partials partials(const uncertainty::Graph& graph, const CellMap& map, uncertainty::Node node);

}  // namespace luxdossier::workbook
