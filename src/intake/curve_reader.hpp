#pragma once

#include "intake/header.hpp"
#include "intake/intake.hpp"
#include "model/limits.hpp"

namespace luxdossier::intake {

/// Reads a spectrum or responsivity (first column headed wavelength or wavelength_nm, in nm; the second the
/// relative value) or an angular target (columns angle in degree, response). Comma and point. Wavelengths
/// become m, angles rad.
[[nodiscard]] std::optional<model::CurveFile> read_curve(const std::string& name, const Files::Answer& file,
                                                         CurveRequest::Kind kind,
                                                         diagnostics::Diagnostics& diagnostics);

/// Reads a mask: columns angle in degree, lower, upper (one of the bounds may be absent); an empty cell is no
/// bound.
[[nodiscard]] std::optional<model::Mask> read_mask(const std::string& name, const Files::Answer& file,
                                                   diagnostics::Diagnostics& diagnostics);

}  // namespace luxdossier::intake
