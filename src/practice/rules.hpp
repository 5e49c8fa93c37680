#pragma once

#include "practice/bench.hpp"

#include <span>
#include <string_view>

namespace luxdossier::practice {

/// One remark on bench practice: its id and what raises it. Remarks that the evaluation raises itself have no
/// rule here.
struct Rule {
    std::string_view id;
    void (*apply)(Bench& bench) = nullptr;
    bool needs_limits = false;  ///< without limits it is listed as not applied (in whole or in part)
    bool told_once = false;     ///< once for all runs, also where it is no note
};

/// All remarks in the order in which they are told.
[[nodiscard]] std::span<const Rule> rules();

// light.cpp
void ambient_light(Bench& bench);
void own_light(Bench& bench);
void dark_missing(Bench& bench);
void dark_moved(Bench& bench);
// dark_runs.cpp
void dark_of_another(Bench& bench);
// placement.cpp
void not_co_located(Bench& bench);
void uneven_field(Bench& bench);
void too_near(Bench& bench);
// source.cpp
void not_warmed_up(Bench& bench);
void ripple(Bench& bench);
// meter.cpp
void certificate_recall_passed(Bench& bench);
void chain_incomplete(Bench& bench);
void spectral_mismatch(Bench& bench);
void meter_temperature(Bench& bench);
// readings.cpp
void not_settled(Bench& bench);
void trend(Bench& bench);
void few_readings(Bench& bench);
void alike_neighbours(Bench& bench);
void saturated(Bench& bench);
void coarse_resolution(Bench& bench);
void outlier(Bench& bench);
// angular.cpp
void coarse_scan(Bench& bench);
void zero_angle(Bench& bench);
void stray_light(Bench& bench);
void wide_source(Bench& bench);
// samples.cpp
void few_samples(Bench& bench);
void near_infrared_leak(Bench& bench);
void window_differs(Bench& bench);
// misread.cpp
void nominal_differs(Bench& bench);
void join_doubtful(Bench& bench);
void comment_row(Bench& bench);
// laboratory.cpp
void out_of_recall(Bench& bench);
void environment_missing(Bench& bench);
// limits.cpp
void range_not_covered(Bench& bench);
void limits_after_data(Bench& bench);

}  // namespace luxdossier::practice
