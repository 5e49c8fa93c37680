#include "metrics/readings.hpp"

#include "metrics/devices.hpp"
#include "metrics/pooling.hpp"
#include "model/numerals.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <stdexcept>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

double cell(const model::Run& run, std::string_view column, std::uint32_t row)
{
    const auto* numbers = run.table ? run.table->number(column) : nullptr;
    return numbers == nullptr ? std::nan("") : numbers->values.at(row);
}

Draft draft_of(Bench& bench, std::size_t run, const SetRequest& request, std::vector<std::uint32_t> rows)
{
    if (rows.empty())
        throw std::domain_error(
            fmt::format("run {} has no reading of {} in this set", bench.run(run).id, request.column));
    Draft draft;
    draft.request = &request;
    draft.rows = std::move(rows);
    for (const auto row : draft.rows)
        draft.values.push_back(cell(bench.run(run), request.column, row));
    draft.summary = statistics::summarise(draft.values);
    if (!std::isfinite(draft.summary.mean))
        draft.summary.mean = draft.values.front();  // beyond what a sum can hold: not decided, but a number
    const auto n = draft.summary.n;
    draft.lag.effective_n = static_cast<double>(n);
    draft.lag.degrees_of_freedom = static_cast<double>(n) - 1;
    if (bench.run(run).time_ordered && n >= 10)
        draft.lag = statistics::autocorrelation(draft.values);
    draft.device = device_of(bench, run, request.column);
    if (draft.device) {
        const auto& device = bench.device(*draft.device);
        draft.lag.r1 = statistics::lag_one_autocorrelation(draft.values);
        draft.r = device.r;
        draft.weight = device.weight;
        draft.by_itself =
            draft.lag.significant &&
            (!(draft.r > 0) || statistics::correlates_beyond(draft.lag.r1, static_cast<double>(n), draft.r,
                                                             std::max(1.0, device.sets)));
    } else {
        draft.by_itself = draft.lag.significant;
    }
    if (request.column == "meter")
        draft.range = meter_range(bench, run, request, draft.summary.mean);
    else if (request.column == "sensor" && bench.qualification().product.resolution)
        draft.range.resolution_lx = bench.qualification().product.resolution->value;
    else
        draft.range.resolution_lx = request.resolution;
    return draft;
}

std::string set_identity(const Bench& bench, std::size_t run, const SetRequest& request)
{
    return bench.run_identity(run) + (request.identity.empty() ? "" : "/" + request.identity) +
           (request.half.empty() ? "" : "/" + request.half) + "/" + request.column;
}

/// The resolution that the data show, with its remark, where none was stated.
std::optional<double> resolution_from_data(Bench& bench, std::size_t run, const SetRequest& request,
                                           Trail& trail)
{
    const auto& column = request.column;
    std::vector<double> values;
    for (const auto row : bench.rows_with(run, column))
        values.push_back(cell(bench.run(run), column, row));
    const auto step = statistics::smallest_step(values);
    model::Remark remark;
    remark.id = "resolution-from-data";
    remark.run = bench.run(run).id;
    remark.seen =
        step ? fmt::format("the resolution of {} is not stated; the smallest step in its readings is {} {}",
                           column, model::numeral(*step, 4), request.unit)
             : fmt::format("the resolution of {} is not stated and all its readings are equal", column);
    remark.effect = step ? "the smallest step is taken as the resolution" : "the means are not decided";
    remark.advice = "state the resolution of the device in the header";
    trail.remarks.push_back(bench.remark(std::move(remark)));
    return step;
}

std::string correlation_words(const Draft& draft)
{
    if (draft.by_itself && !draft.pooled)
        return fmt::format(", autocorrelated (r1 = {:.2f})", draft.lag.r1);
    if (draft.r > 0)
        return fmt::format(", neighbours correlate (r = {:.2f} over all sets of the device)", draft.r);
    return {};
}

Expression mean_input(Bench& bench, std::size_t run, const Draft& draft, const std::string& identity)
{
    uncertainty::InputQuantity input;
    input.identity = identity + "/mean";
    input.quantity = fmt::format("{}, mean of {}", draft.request->words, draft.summary.n);
    input.symbol = draft.request->symbol;
    input.unit = draft.request->unit;
    input.estimate = draft.summary.mean;
    input.standard_uncertainty = draft.u;
    input.evaluation = uncertainty::Evaluation::type_a;
    input.distribution = uncertainty::Distribution::student_t;
    input.degrees_of_freedom = draft.undecided.empty() ? draft.nu : uncertainty::infinite;
    input.note = fmt::format("readings of run {}{}{}", bench.run(run).id,
                             draft.pooled ? ", pooled standard deviation" : "", correlation_words(draft));
    return bench.input(input);
}

Expression resolution_input(Bench& bench, const SetRequest& request, const std::string& identity,
                            double resolution_lx, bool from_data)
{
    uncertainty::InputQuantity step;
    step.identity = identity + "/resolution";
    step.quantity = fmt::format("{}, resolution", request.words);
    step.symbol = "q_" + request.symbol;
    step.unit = request.unit;
    step.standard_uncertainty = resolution_lx / std::sqrt(12.0);
    step.distribution = uncertainty::Distribution::rectangular;
    step.note = fmt::format("step {} {}{}", model::numeral(resolution_lx, 4), request.unit,
                            from_data ? ", the smallest in the readings" : "");
    return bench.input(step);
}

/// The reading set of a draft; resolution, inputs and reasons are added by the caller.
model::ReadingSet set_of(std::size_t run, const Draft& draft)
{
    model::ReadingSet set;
    set.run = run;
    set.column = draft.request->column;
    set.rows = draft.rows;
    set.level_lx = draft.request->level_lx;
    set.place = draft.request->half.empty() ? draft.request->place : draft.request->half;
    set.is_half = !draft.request->half.empty();
    set.n = draft.summary.n;
    set.mean = draft.summary.mean;
    set.standard_deviation = draft.s;
    set.standard_uncertainty = draft.u;
    set.degrees_of_freedom = draft.undecided.empty() ? draft.nu : 0;
    set.r1 = draft.lag.r1;
    set.autocorrelated = draft.lag.significant;
    set.by_itself = draft.by_itself;
    set.device = draft.device;
    set.pooled = draft.pooled;
    set.resolution = draft.range.resolution_lx;
    set.undecided = draft.undecided;
    return set;
}

/// Turns a judged draft into a mean: inputs, reading set and trail.
ReadingMean mean_from(Bench& bench, std::size_t run, const Draft& draft, std::span<const std::size_t> remarks)
{
    const auto& request = *draft.request;
    const auto identity = set_identity(bench, run, request);
    ReadingMean mean;
    mean.range = draft.range.range;
    mean.trail.runs.push_back(run);
    mean.trail.remarks.assign(remarks.begin(), remarks.end());
    mean.mean = mean_input(bench, run, draft, identity);
    mean.total = mean.mean;

    auto set = set_of(run, draft);
    set.input = bench.builder().input_of(mean.mean);
    if (!set.resolution) {
        set.resolution = resolution_from_data(bench, run, request, mean.trail);
        set.resolution_from_data = set.resolution.has_value();
    }
    if (!set.resolution && set.undecided.empty() && draft.s == 0)
        set.undecided =
            fmt::format("all readings of {} are equal and its resolution is not known", request.column);
    if (set.resolution && draft.s < *set.resolution / 2) {
        const auto step =
            resolution_input(bench, request, identity, *set.resolution, set.resolution_from_data);
        set.resolution_input = bench.builder().input_of(step);
        mean.total = mean.mean + step;
    }
    if (!set.undecided.empty()) {
        mean.trail.undecide(fmt::format("run {}, {}: {}", bench.run(run).id, request.words, set.undecided));
        mean.trail.uncertainty_unknown = true;
    }
    mean.set = bench.add_set(std::move(set));
    mean.trail.sets.push_back(mean.set);
    return mean;
}

/// Covariance of the means of a pair, as used: own or pooled, inflated where autocorrelated.
double covariance_of_means(std::span<const Device> devices, std::size_t set, const Pool* pool)
{
    const auto& a = devices[0][set];
    const auto& b = devices[1][set];
    const double n = static_cast<double>(a.summary.n);
    const double inflation = a.s > 0 ? a.u * a.u / (a.s * a.s / n) : 1.0;  // that both share
    double covariance = 0;
    if (pool != nullptr)
        covariance = pool->covariance * a.summary.mean * b.summary.mean / n * inflation;
    else if (a.summary.n >= 2 && a.summary.standard_deviation > 0 && b.summary.standard_deviation > 0)
        covariance = statistics::covariance(a.values, b.values) / n * inflation;
    if (!std::isfinite(covariance))
        covariance = 0;  // readings beyond what can be squared are not decided anyway
    // Two readings a device are correlated by exactly +-1: rounding must not lift that above 1.
    const double most = a.u * b.u;
    return std::clamp(covariance, -most, most);
}

/// Members of a group with their covariance, block by block.
struct Block {
    std::vector<uncertainty::Input> members;
    std::vector<double> covariance;
};

void group_blocks(Bench& bench, uncertainty::InputGroup::Kind kind, std::string identity,
                  const std::vector<Block>& blocks, double nu)
{
    uncertainty::InputGroup group;
    group.kind = kind;
    group.identity = std::move(identity);
    group.degrees_of_freedom = nu;
    for (const auto& block : blocks)
        group.members.insert(group.members.end(), block.members.begin(), block.members.end());
    const auto size = group.members.size();
    if (size < 2)
        return;
    group.covariance.assign(size * size, 0.0);
    std::size_t at = 0;
    for (const auto& block : blocks) {
        const auto side = block.members.size();
        for (std::size_t i = 0; i < side; ++i)
            for (std::size_t j = 0; j < side; ++j)
                group.covariance[(at + i) * size + at + j] = block.covariance[i * side + j];
        at += side;
    }
    bench.builder().group(std::move(group));
}

/// All means of one or two devices, with their groups. Result: [device][set].
std::vector<std::vector<ReadingMean>> means_of_devices(Bench& bench, std::size_t run,
                                                       std::vector<Device> devices)
{
    const auto judgement = judge(bench, run, devices);
    std::vector<std::vector<ReadingMean>> means(devices.size());
    std::vector<std::vector<Block>> pooled_blocks(judgement.pools.size());
    for (std::size_t set = 0; set < devices.front().size(); ++set) {
        Block block;
        for (std::size_t d = 0; d < devices.size(); ++d) {
            means[d].push_back(mean_from(bench, run, devices[d][set], judgement.remarks_of_set[set]));
            block.members.push_back(bench.builder().input_of(means[d].back().mean));
        }
        const auto pool = judgement.pool_of_set[set];
        const auto& first = devices.front()[set];
        if (devices.size() == 1) {
            block.covariance = {first.u * first.u};
        } else {
            const auto& second = devices.back()[set];
            const double covariance =
                covariance_of_means(devices, set, pool ? &judgement.pools[*pool] : nullptr);
            block.covariance = {first.u * first.u, covariance, covariance, second.u * second.u};
        }
        if (pool)
            pooled_blocks[*pool].push_back(std::move(block));
        else if (devices.size() == 2 && first.summary.n >= 2)
            group_blocks(bench, uncertainty::InputGroup::Kind::observed_together,
                         set_identity(bench, run, *first.request) + "+" + devices.back()[set].request->column,
                         {block}, first.nu);
    }
    for (std::size_t set = 0; set < judgement.pool_of_set.size(); ++set)
        for (const auto& means_of_device : means) {
            if (!judgement.pool_of_set[set])
                continue;
            std::vector<std::size_t> like_sets;
            for (const auto like : judgement.pools[*judgement.pool_of_set[set]].like_sets)
                like_sets.push_back(means_of_device[like].set);
            bench.set_pool(means_of_device[set].set, std::move(like_sets));
        }
    const auto& half = devices.front().front().request->half;
    for (std::size_t i = 0; i < pooled_blocks.size(); ++i)
        group_blocks(bench, uncertainty::InputGroup::Kind::pooled,
                     judgement.pools[i].identity + (half.empty() ? "" : "/" + half) + "/" +
                         device_words(devices),
                     pooled_blocks[i], judgement.pools[i].nu);
    return means;
}

std::vector<std::uint32_t> rows_with_reading(const model::Run& run, const SetRequest& request)
{
    std::vector<std::uint32_t> rows;
    for (const auto row : request.rows)
        if (!std::isnan(cell(run, request.column, row)))
            rows.push_back(row);
    return rows;
}

}  // namespace

std::vector<ReadingMean> means_of(Bench& bench, std::size_t run, std::span<const SetRequest> requests)
{
    // Devices are judged apart: the sets of one column do not pool with those of another.
    std::vector<ReadingMean> means(requests.size());
    std::set<std::string> columns;
    for (const auto& request : requests)
        columns.insert(request.column);
    for (const auto& column : columns) {
        Device device;
        std::vector<std::size_t> where;
        for (std::size_t i = 0; i < requests.size(); ++i) {
            if (requests[i].column != column)
                continue;
            device.push_back(
                draft_of(bench, run, requests[i], rows_with_reading(bench.run(run), requests[i])));
            where.push_back(i);
        }
        auto found = means_of_devices(bench, run, {std::move(device)});
        for (std::size_t i = 0; i < where.size(); ++i)
            means[where[i]] = std::move(found.front()[i]);
    }
    return means;
}

ReadingMean mean_of(Bench& bench, std::size_t run, const SetRequest& request)
{
    return means_of(bench, run, {&request, 1}).front();
}

std::vector<PairMean> pairs_of(Bench& bench, std::size_t run, std::span<const SetRequest> first,
                               std::span<const SetRequest> second)
{
    std::vector<Device> devices(2);
    std::size_t incomplete = 0;
    for (std::size_t i = 0; i < first.size(); ++i) {
        const auto a = rows_with_reading(bench.run(run), first[i]);
        const auto b = rows_with_reading(bench.run(run), second[i]);
        std::vector<std::uint32_t> both;
        std::ranges::set_intersection(a, b, std::back_inserter(both));
        incomplete += a.size() + b.size() - 2 * both.size();
        devices[0].push_back(draft_of(bench, run, first[i], both));
        devices[1].push_back(draft_of(bench, run, second[i], both));
    }
    std::vector<PairMean> pairs;
    if (first.empty())
        return pairs;
    auto means = means_of_devices(bench, run, std::move(devices));
    if (incomplete > 0) {
        model::Remark remark;
        remark.id = "incomplete-rows";
        remark.run = bench.run(run).id;
        remark.seen = fmt::format("{} row{} with one reading only", incomplete, incomplete == 1 ? "" : "s");
        remark.effect = "only rows that hold both readings count";
        remark.advice = "log both devices in one row, or state the method as substitution";
        const auto index = bench.remark(std::move(remark));
        for (auto& means_of_device : means)
            for (auto& mean : means_of_device)
                mean.trail.remarks.push_back(index);
    }
    for (std::size_t i = 0; i < first.size(); ++i)
        pairs.push_back({std::move(means[0][i]), std::move(means[1][i])});
    return pairs;
}

RangeOfMean meter_range(const Bench& bench, std::size_t run, const SetRequest& request, double mean_lx)
{
    RangeOfMean found;
    const auto* meter = bench.qualification().meter(bench.run(run).meter);
    if (meter == nullptr)
        return found;
    found.resolution_lx = meter->resolution_lx;
    if (meter->ranges.empty())
        return found;
    double at = mean_lx;
    double in_column = -1;
    for (const auto row : request.rows)
        if (const double range = cell(bench.run(run), "range", row); range > in_column)
            in_column = range;
    if (in_column >= 0)
        at = in_column * (1 - 1e-9);  // the column names the end of the range; units may have rounded it
    const auto range =
        std::ranges::find_if(meter->ranges, [at](const model::MeterRange& r) { return r.up_to_lx >= at; });
    const auto index = range == meter->ranges.end() ? meter->ranges.size() - 1
                                                    : static_cast<std::size_t>(range - meter->ranges.begin());
    found.range = index;
    found.resolution_lx = meter->ranges[index].resolution_lx;
    return found;
}

}  // namespace luxdossier::metrics
