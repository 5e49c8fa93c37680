#pragma once

#include "workbook/cell_map.hpp"

#include <optional>
#include <span>
#include <string>

namespace luxdossier::workbook {

/// The last window of a warm-up log in the cells of its run, and what a spreadsheet makes of it: where its
/// readings stand one below the other on one sheet. Which rows it has stays as evaluated.
///
/// Source: docs/metrics/warm-up.md: the last readings within the settling
/// window; least squares for the slope, relative to their mean.
class LogWindow {
public:
    [[nodiscard]] static std::optional<LogWindow> of(const model::Dossier& dossier, const CellMap& map,
                                                     std::size_t run);

    [[nodiscard]] Term slope() const;              ///< per second, relative
    [[nodiscard]] Term slope_uncertainty() const;  ///< likewise
    [[nodiscard]] Term freedom() const;
    [[nodiscard]] Term peak_to_peak() const;  ///< per cent of the mean
    [[nodiscard]] Term deviation() const;     ///< standard deviation, per cent of the mean

private:
    struct Sums {
        double mean = 0, xx = 0, xy = 0, yy = 0;
    };
    [[nodiscard]] Sums sums() const;

    std::string times_, levels_;  ///< ranges
    std::span<const double> time_s_, level_;
};

}  // namespace luxdossier::workbook
