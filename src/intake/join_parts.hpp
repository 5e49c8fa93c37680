#pragma once

#include "model/table.hpp"

#include <optional>
#include <vector>

namespace luxdossier::intake {

/// The table of a run in parts, and what became of the rows of each part.
struct Joined {
    model::Table table;
    struct Part {
        std::size_t matched_rows = 0;  ///< of the first part: rows that found a partner in every other part
        std::size_t unmatched_rows = 0;
        double within_s = 0;                   ///< by time: how far apart two rows may lie
        double largest_time_difference_s = 0;  ///< by time: of the rows that belong together
    };
    std::vector<Part> parts;
};

/// Joins parts to the rows of the first one: by time where every part has a column "time", else by row. In
/// time, two rows belong together where each is the other's nearest and they lie at most `within_s` apart;
/// where that is not stated, at most half the longer of the two parts' usual intervals. Rows with equal times
/// pair in their order. Rows of the first part without a partner stay, with missing readings; those of other
/// parts are left out. Both are counted. Domain: by time, times ascend (equal ones allowed) and are not
/// missing.
[[nodiscard]] Joined join_parts(std::vector<model::Table> parts, std::optional<double> within_s);

/// The median of the intervals between times that differ; empty where there is none.
[[nodiscard]] std::optional<double> usual_interval(const model::Table& table);

}  // namespace luxdossier::intake
