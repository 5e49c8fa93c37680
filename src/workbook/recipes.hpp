#pragma once

#include "workbook/cell_map.hpp"

#include <optional>
#include <vector>

namespace luxdossier::workbook {

/// Formulas of values without a model, from the recipes of the results. As of means, a formula counts only
/// where it gives what was evaluated (to 1e-9), and where it is no longer than a cell holds.
class Recipes {
public:
    Recipes(const model::Dossier& dossier, const CellMap& map);
    [[nodiscard]] const Term* formula(std::size_t result) const
    {
        return formulas_.at(result) ? &*formulas_[result] : nullptr;
    }

private:
    std::vector<std::optional<Term>> formulas_;
};

}  // namespace luxdossier::workbook
