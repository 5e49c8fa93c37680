#pragma once

#include "model/table.hpp"

#include <optional>
#include <vector>

namespace luxdossier::intake {

/// The table of a run in parts, and how many rows of each part found no partner.
struct Joined {
    model::Table table;
    std::vector<std::size_t> unmatched_rows;  ///< one a part
};

/// Joins parts to the rows of the first one: by row, or by time where `within_s` is stated. In time, two rows
/// belong together where each is the other's nearest and they lie at most `within_s` apart. Rows of the first
/// part without a partner stay, with missing readings; those of other parts are left out. Both are counted.
/// Domain: by time, every part has a column "time" whose values ascend (equal ones allowed) and are not
/// missing.
[[nodiscard]] Joined join_parts(std::vector<model::Table> parts, std::optional<double> within_s);

}  // namespace luxdossier::intake
