#pragma once

#include "metrics/readings.hpp"
#include "statistics/lag_one.hpp"
#include "statistics/summary.hpp"

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace luxdossier::metrics {

// How the spread of sets of repeated readings is judged: alone, or pooled over like sets. Used by
// readings.cpp only.

/// One set of one device on its way to a mean.
struct Draft {
    const SetRequest* request = nullptr;
    std::vector<std::uint32_t> rows;
    std::vector<double> values;
    statistics::Summary summary;
    statistics::Autocorrelation lag;    ///< of the set itself
    std::optional<std::size_t> device;  ///< of the bench, where the readings follow one another in time
    double r = 0;                       ///< of the device; 0 where it shows none
    double weight = 0;                  ///< of that r
    bool by_itself = false;             ///< autocorrelated, beyond what its device shows: its own r1 counts
    RangeOfMean range;
    double s = 0;  ///< as used: own or pooled
    double u = 0;
    double nu = uncertainty::infinite;
    bool pooled = false;
    std::string undecided;
};

/// Sets of one device, in the order of the requests.
using Device = std::vector<Draft>;

/// Pooled relative standard deviations, one a device, and the pooled relative covariance of a pair.
struct Pool {
    std::array<double, 2> s{};
    double covariance = 0;
    double nu = 0;
    double readings_less_sets = 0;  ///< sum of n - 1
    std::array<double, 2> trace{};  ///< that sum where neighbours correlate by the device's r
    std::string identity;
    std::vector<std::size_t> like_sets;  ///< positions among the requests
};

/// How the sets of one call were judged: the pool of each set, and remarks that touch them.
struct Judgement {
    std::vector<Pool> pools;
    std::vector<std::optional<std::size_t>> pool_of_set;
    std::vector<std::vector<std::size_t>> remarks_of_set;
};

/// Judges every set: fills s, u, nu, pooled and undecided of the drafts. One device, or two that were read
/// together.
[[nodiscard]] Judgement judge(Bench& bench, std::size_t run, std::span<Device> devices);

/// "sensor", "sensor and meter".
[[nodiscard]] std::string device_words(std::span<const Device> devices);

}  // namespace luxdossier::metrics
