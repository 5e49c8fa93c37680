#pragma once

#include "metrics/readings.hpp"

namespace luxdossier::metrics {

/// Means of a dark run; rows that hold both readings are a pair. Built once per run, shared by all that use
/// them.
struct DarkMeans {
    std::optional<Traced> sensor, meter;
};
[[nodiscard]] DarkMeans dark_means(Bench& bench, std::size_t dark_run);

/// What is subtracted from the readings of a run: the meter's zero R0, and from the product's reading only an
/// ambient that was measured and is stated to be subtracted.
struct Zeros {
    std::optional<Traced> meter, sensor;
    Trail trail;  ///< remarks that touch the run either way
};
[[nodiscard]] Zeros zeros_of(Bench& bench, std::size_t run);

/// The dark run that belongs to a run: where columns split the dark run, the part of the same meter, sample,
/// configuration and state of the product's own light, as far as there is one.
[[nodiscard]] std::optional<std::size_t> dark_run_of(const Bench& bench, std::size_t run);

/// "capped" or "blocked" of a dark run; empty where not stated.
[[nodiscard]] std::string light_of(const Bench& bench, std::size_t dark_run);

}  // namespace luxdossier::metrics
