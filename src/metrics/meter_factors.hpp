#pragma once

#include "metrics/bench.hpp"

namespace luxdossier::metrics {

// The factors of E = (R - R0) C A T L G F that belong to the reference meter. A factor that is not needed is
// absent; one that is needed and not stated is absent with a remark `left-out` on the trail. Inputs are
// shared by identity.

using Factor = std::optional<Expression>;

/// C: certificate factor, linear in ln(abscissa) between the points; the dependence on the abscissa (R - R0)
/// counts.
[[nodiscard]] Factor certificate_factor(Bench& bench, const model::Meter& meter, std::size_t run,
                                        const Expression& abscissa, Trail& trail);
/// A: ageing between the certificate and the run.
[[nodiscard]] Factor ageing_factor(Bench& bench, const model::Meter& meter, std::size_t run, Trail& trail);
/// T: temperature of the meter, where the run states it.
[[nodiscard]] Factor temperature_factor(Bench& bench, const model::Meter& meter, std::size_t run,
                                        Trail& trail);
/// L: linearity f3, one input per meter and `identity` ("level=100lx", "run:map").
[[nodiscard]] Factor linearity_factor(Bench& bench, const model::Meter& meter, const std::string& identity,
                                      const std::string& words, Trail& trail);
/// G: range change f11, one input per meter and range.
[[nodiscard]] Factor range_factor(Bench& bench, const model::Meter& meter, std::optional<std::size_t> range,
                                  Trail& trail);
/// F: spectral mismatch, one input per meter and source; `source_id` empty: the source of the run.
[[nodiscard]] Factor spectral_factor(Bench& bench, const model::Meter& meter, std::size_t run,
                                     const std::string& source_id, Trail& trail);

/// Raises `left-out` for a characteristic that nothing states. `what` names the key of the header.
void leave_out(Bench& bench, Trail& trail, const std::string& of, const std::string& what,
               const std::string& effect);
/// "class limit" where the stated class filled the key in, else `otherwise`.
[[nodiscard]] std::string provenance(const model::Meter& meter, std::string_view key, std::string otherwise);

}  // namespace luxdossier::metrics
