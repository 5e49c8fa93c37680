#pragma once

#include "metrics/bench.hpp"

#include <span>
#include <utility>

namespace luxdossier::metrics {

/// A mean of repeated readings that is asked for. Missing readings among the rows are skipped.
struct SetRequest {
    std::string column;               ///< "sensor", "meter", "monitor"
    std::vector<std::uint32_t> rows;  ///< rows of the run's table, in file order
    std::string identity;  ///< part of the input's identity between run and column: "level=100lx", or empty
    std::string words;     ///< in the budget, before ", mean of 10": "sensor", "meter at sensor"
    std::string symbol;    ///< "D", "R"
    std::optional<double> level_lx;  ///< nominal
    std::string place;               ///< as ReadingSet::place
    std::string unit = "lx";
    std::string half = {};                  ///< "earlier half" of readings that another set holds too
    std::optional<double> resolution = {};  ///< of devices other than product and meter, where stated
};

/// A mean as the model uses it: the mean input and, where s < q/2, the resolution input added to it.
struct ReadingMean {
    Expression total;
    Expression mean;                   ///< the mean input alone
    std::size_t set = 0;               ///< index of its reading set
    std::optional<std::size_t> range;  ///< of the meter
    Trail trail;
    [[nodiscard]] Traced traced() const { return {total, trail}; }
};

/// Means of several sets of one run, each device on its own. Like sets (same device and meter range) of this
/// call pool their relative standard deviations as the models say. Every request must hold at least one
/// reading.
[[nodiscard]] std::vector<ReadingMean> means_of(Bench& bench, std::size_t run,
                                                std::span<const SetRequest> requests);
/// One set on its own.
[[nodiscard]] ReadingMean mean_of(Bench& bench, std::size_t run, const SetRequest& request);

/// Two devices read together: only rows that hold both count, covariance of the means from the pairs
/// (JCGM 100:2008, 5.2.3), one Welch-Satterthwaite term. first[i] belongs to second[i].
struct PairMean {
    ReadingMean first, second;
};
[[nodiscard]] std::vector<PairMean> pairs_of(Bench& bench, std::size_t run, std::span<const SetRequest> first,
                                             std::span<const SetRequest> second);

/// Resolution of a mean and the range it was read in.
struct RangeOfMean {
    std::optional<double> resolution_lx;
    std::optional<std::size_t> range;  ///< index into Meter::ranges
};
/// Of the meter: the `range` column where given, else the smallest `up_to` that is not below the mean
/// indication.
[[nodiscard]] RangeOfMean meter_range(const Bench& bench, std::size_t run, const SetRequest& request,
                                      double mean_lx);

}  // namespace luxdossier::metrics
