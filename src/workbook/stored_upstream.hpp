#pragma once

#include "workbook/derivatives.hpp"
#include "workbook/means.hpp"
#include "workbook/recipes.hpp"

namespace luxdossier::workbook {

/// What of a result would not follow a change of its readings, because a stored number lies upstream.
class StoredUpstream {
public:
    StoredUpstream(const model::Dossier& dossier, const CellMap& map, const MeanFormulas& means,
                   const Derivatives& derivatives, const Recipes& recipes);
    [[nodiscard]] bool value(std::size_t result) const { return values_.at(result); }
    [[nodiscard]] bool uncertainty(std::size_t result) const { return uncertainties_.at(result); }

private:
    std::vector<bool> values_, uncertainties_;
};

/// True for a helper cell that holds a number as it is, such as a converged weight.
[[nodiscard]] bool is_stored_helper(const uncertainty::CellPlan::Cell& cell);

}  // namespace luxdossier::workbook
