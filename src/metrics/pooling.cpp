#include "metrics/pooling.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Sets of up to this many readings share a pooled standard deviation.
constexpr std::size_t most_readings_that_pool = 4;

/// Like sets: of one run, device and meter range. A pair goes by the range of its meter.
std::map<std::size_t, std::vector<std::size_t>> like_sets(std::span<const Device> devices)
{
    std::map<std::size_t, std::vector<std::size_t>> likes;
    for (std::size_t i = 0; i < devices.front().size(); ++i) {
        std::size_t key = 0;
        for (const auto& device : devices)
            if (device[i].range.range)
                key = *device[i].range.range + 1;
        likes[key].push_back(i);
    }
    return likes;
}

/// A relative standard deviation needs a mean that is not zero and readings whose squares can be held.
bool can_pool(std::span<const Device> devices, std::size_t set)
{
    return std::ranges::all_of(devices, [&](const Device& device) {
        const auto& summary = device[set].summary;
        return summary.mean != 0 &&
               (summary.n < 2 || std::isfinite(summary.standard_deviation / summary.mean));
    });
}

/// The n that most sets have; of equally common ones the larger, which is the stricter for Cochran's test.
std::size_t commonest_size(const Device& device, std::span<const std::size_t> sets)
{
    std::map<std::size_t, std::size_t> counts;
    for (const auto set : sets)
        ++counts[device[set].summary.n];
    const auto commonest = std::ranges::max_element(counts, [](const auto& a, const auto& b) {
        return a.second < b.second || (a.second == b.second && a.first < b.first);
    });
    return commonest->first;
}

bool cochran_holds(const Device& device, std::span<const std::size_t> sets)
{
    std::vector<double> variances;
    for (const auto set : sets) {
        const double relative = device[set].summary.standard_deviation / device[set].summary.mean;
        variances.push_back(relative * relative);
    }
    if (std::ranges::all_of(variances, [](double variance) { return variance == 0; }))
        return true;
    return statistics::cochran_passes(variances, commonest_size(device, sets), 0.01);
}

Pool pool_of(std::span<const Device> devices, std::span<const std::size_t> sets)
{
    Pool pool;
    std::array<double, 2> sums{};
    double products = 0;
    std::array<double, 2> trace_of_square{};
    for (const auto set : sets) {
        const auto n = static_cast<double>(devices.front()[set].summary.n);
        const double weight = n - 1;
        pool.readings_less_sets += weight;
        for (std::size_t d = 0; d < devices.size(); ++d) {
            const auto& summary = devices[d][set].summary;
            const double relative = summary.standard_deviation / summary.mean;
            sums[d] += weight * relative * relative;
            const auto correlated = statistics::correlated_set(n, devices[d][set].r);
            pool.trace[d] += correlated.trace;
            trace_of_square[d] += correlated.trace_of_square;
        }
        if (devices.size() == 2)
            products += weight * statistics::covariance(devices[0][set].values, devices[1][set].values) /
                        (devices[0][set].summary.mean * devices[1][set].summary.mean);
    }
    pool.nu = pool.readings_less_sets;
    for (std::size_t d = 0; d < devices.size(); ++d) {
        pool.s[d] = std::sqrt(sums[d] / pool.readings_less_sets);
        const auto& draft = devices[d][sets.front()];
        if (draft.r > 0)
            pool.nu = std::min(pool.nu, statistics::correlated_degrees_of_freedom(
                                            pool.trace[d], trace_of_square[d], draft.r, draft.weight));
    }
    pool.covariance = products / pool.readings_less_sets;
    return pool;
}

std::size_t remark_not_pooled(Bench& bench, std::size_t run, std::span<const Device> devices, std::string why)
{
    model::Remark remark;
    remark.id = "not-pooled";
    remark.run = bench.run(run).id;
    remark.seen = fmt::format("sets of at most {} readings of {}: {}", most_readings_that_pool,
                              device_words(devices), why);
    remark.effect =
        "each mean stands on its own standard deviation with few degrees of freedom; a single reading is "
        "not decided";
    remark.advice =
        "take at least 5 readings a level, or several levels in one range with the same number of readings";
    return bench.remark(std::move(remark));
}

/// By how much the variance of a mean is larger than s^2/n, and the degrees of freedom of s.
struct Scatter {
    double factor = 1;
    double nu = uncertainty::infinite;
    /// What is read together shares the larger factor and the fewer degrees of freedom.
    void take(const Scatter& other)
    {
        factor = std::max(factor, other.factor);
        nu = std::min(nu, other.nu);
    }
};

/// By the correlation of its device, or by its own where that is larger or the device shows none.
Scatter scatter_of(const Draft& draft)
{
    const auto n = static_cast<double>(draft.summary.n);
    if (draft.by_itself || !(draft.r > 0) || n < 2)
        return {draft.lag.variance_factor, draft.lag.degrees_of_freedom};
    const auto set = statistics::correlated_set(n, draft.r);
    return {n * (n - 1) / (set.trace * set.effective_n),
            statistics::correlated_degrees_of_freedom(set.trace, set.trace_of_square, draft.r, draft.weight)};
}

/// Judges the spread of every set by itself.
void judge_alone(std::span<Device> devices, std::size_t set)
{
    Scatter scatter;
    for (const auto& device : devices)
        scatter.take(scatter_of(device[set]));
    for (auto& device : devices) {
        auto& draft = device[set];
        const auto n = draft.summary.n;
        if (n < 2) {
            draft.undecided = "a single reading without like sets to pool with";
            continue;
        }
        if (!std::isfinite(draft.summary.standard_deviation)) {
            draft.undecided = "the readings are too large for their squares to be held";
            continue;
        }
        draft.s = draft.summary.standard_deviation;
        draft.u = draft.s * std::sqrt(scatter.factor / static_cast<double>(n));
        draft.nu = scatter.nu;
    }
}

/// By the pooled standard deviation; sets this small show no correlation of their own, that of the device
/// counts.
void judge_by_pool(std::span<Device> devices, std::size_t set, const Pool& pool)
{
    const auto n = static_cast<double>(devices.front()[set].summary.n);
    double factor = 1;
    for (std::size_t d = 0; d < devices.size(); ++d)
        if (const double r = devices[d][set].r; r > 0)
            factor = std::max(factor, n * pool.readings_less_sets /
                                          (pool.trace[d] * statistics::correlated_set(n, r).effective_n));
    for (std::size_t d = 0; d < devices.size(); ++d) {
        auto& draft = devices[d][set];
        draft.pooled = true;
        draft.s = pool.s[d] * std::abs(draft.summary.mean);
        draft.u = draft.s * std::sqrt(factor / n);
        draft.nu = pool.nu;
    }
}

}  // namespace

std::string device_words(std::span<const Device> devices)
{
    std::string words;
    for (const auto& device : devices)
        words += (words.empty() ? "" : " and ") + device.front().request->column;
    return words;
}

Judgement judge(Bench& bench, std::size_t run, std::span<Device> devices)
{
    Judgement judgement;
    const auto sets = devices.front().size();
    judgement.pool_of_set.resize(sets);
    judgement.remarks_of_set.resize(sets);
    for (std::size_t set = 0; set < sets; ++set)
        judge_alone(devices, set);
    for (const auto& [range, likes] : like_sets(devices)) {
        std::vector<std::size_t> small, with_spread;
        for (const auto set : likes) {
            if (!can_pool(devices, set))
                continue;
            if (devices.front()[set].summary.n <= most_readings_that_pool)
                small.push_back(set);
            if (devices.front()[set].summary.n >= 2)
                with_spread.push_back(set);
        }
        if (small.empty())
            continue;
        std::string why;
        if (with_spread.size() < 2)
            why = fmt::format("{} like set{} with two readings or more", with_spread.size(),
                              with_spread.size() == 1 ? "" : "s");
        else if (!std::ranges::all_of(
                     devices, [&](const Device& device) { return cochran_holds(device, with_spread); }))
            why = "their standard deviations differ (Cochran's test at 1 %, ISO 5725-2)";
        if (!why.empty()) {
            const auto remark = remark_not_pooled(bench, run, devices, why);
            for (const auto set : small)
                judgement.remarks_of_set[set].push_back(remark);
            continue;
        }
        auto pool = pool_of(devices, with_spread);
        pool.like_sets = with_spread;
        pool.identity = fmt::format("{}/range={}", bench.run_identity(run), range);
        for (const auto set : small) {
            judge_by_pool(devices, set, pool);
            for (auto& device : devices)
                device[set].undecided.clear();
            judgement.pool_of_set[set] = judgement.pools.size();
        }
        judgement.pools.push_back(std::move(pool));
    }
    return judgement;
}

}  // namespace luxdossier::metrics
