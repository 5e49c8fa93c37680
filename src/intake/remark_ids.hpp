#pragma once

#include <span>
#include <string_view>

namespace luxdossier::intake {

/// Ids of the remarks on bench practice, which a header may accept with a reason.
[[nodiscard]] std::span<const std::string_view> remark_ids();

}  // namespace luxdossier::intake
