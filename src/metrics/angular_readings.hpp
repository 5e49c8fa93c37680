#pragma once

#include "metrics/bench.hpp"
#include "metrics/readings.hpp"

#include <optional>
#include <vector>

namespace luxdossier::metrics {

/// Readings of one angle of a plane, screened rows left out.
struct AngleRows {
    double angle_degree = 0;
    std::vector<std::uint32_t> rows;  ///< with sensor and, where there is a monitor, its reading too
};

/// Readings of one plane: angles in ascending order.
struct PlaneRows {
    double plane_degree = 0;
    std::vector<AngleRows> angles;
    std::vector<std::vector<std::uint32_t>> zero_blocks;  ///< uninterrupted series at angle 0, in file order
    [[nodiscard]] const AngleRows* zero() const;
};
[[nodiscard]] std::vector<PlaneRows> plane_rows_of(const Bench& bench, std::size_t run);

/// Means of an angle: of the sensor, and of the monitor where one was logged.
struct AngleMeans {
    ReadingMean sensor;
    std::optional<ReadingMean> monitor;
};

/// Means of all angles of the planes of one run: [plane][angle]. Angles with several readings are judged like
/// any set; single readings take the relative standard deviation of the readings at 0 of their plane (n - 1,
/// at least 3), as one Welch-Satterthwaite term.
[[nodiscard]] std::vector<std::vector<AngleMeans>> angle_means(Bench& bench, std::size_t run,
                                                               const std::vector<PlaneRows>& planes);

[[nodiscard]] bool has_monitor(const Bench& bench, std::size_t run);

}  // namespace luxdossier::metrics
