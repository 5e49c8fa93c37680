#pragma once

#include "intake/header.hpp"

#include <span>

namespace luxdossier::intake {

/// One run for each distinct combination of the columns that are conditions, in the order in which the file
/// first shows them. All share the table; excluded rows (numbers from 1) are left out of `rows`. A
/// combination that an empty cell of an unmatched row makes is no run.
[[nodiscard]] std::vector<model::Run> split_runs(const model::Run& stated,
                                                 std::span<const ColumnRequest> columns,
                                                 const std::shared_ptr<const model::Table>& table,
                                                 const std::vector<bool>& excluded);

}  // namespace luxdossier::intake
