#include "metrics/levels.hpp"

#include "metrics/illuminance.hpp"
#include "metrics/position.hpp"
#include "metrics/substitution.hpp"
#include "metrics/zeros.hpp"

#include "model/numerals.hpp"
#include "uncertainty/propagation.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// The rows of one nominal level with their places in the run, in file order.
struct LevelRows {
    std::optional<double> level_lx;
    std::vector<std::uint32_t> rows;
    std::vector<std::size_t> positions;
    std::string half = {};  ///< "earlier half" or "later half"; empty: all rows
};

std::optional<double> stated_level(const model::Run& run)
{
    const auto found = run.conditions.find("level");
    if (found == run.conditions.end())
        return std::nullopt;
    const auto* level = std::get_if<model::ConditionQuantity>(&found->second);
    return level == nullptr ? std::nullopt : std::optional(level->value);
}

std::vector<LevelRows> rows_by_level(const model::Run& run)
{
    const auto* column = run.table ? run.table->number("level") : nullptr;
    std::vector<LevelRows> levels;
    for (std::size_t position = 0; position < run.rows.size(); ++position) {
        const auto row = run.rows[position];
        const auto level = column != nullptr ? std::optional(column->values.at(row)) : stated_level(run);
        if (level && std::isnan(*level))
            continue;
        auto found = std::ranges::find(levels, level, &LevelRows::level_lx);
        if (found == levels.end())
            found = levels.insert(levels.end(), {level, {}, {}});
        found->rows.push_back(row);
        found->positions.push_back(position);
    }
    return levels;
}

std::string level_identity(const LevelRows& rows)
{
    return rows.level_lx ? fmt::format("level={}lx", *rows.level_lx) : std::string{};
}

/// What the indication means: which f3 input, which factor for the place.
IlluminanceAt at_level(const Bench& bench, std::size_t run, const LevelRows& rows)
{
    if (rows.level_lx)
        return {run, level_identity(rows), fmt::format("at {} lx", model::numeral(*rows.level_lx, 9))};
    return {run, bench.run_identity(run), "in run " + bench.run(run).id};
}

/// D is the product's reading as it is; an ambient that was measured is taken off where that is stated.
Traced product_reading(Bench& bench, std::size_t run, const ReadingMean& mean)
{
    Traced reading = mean.traced();
    const auto zeros = zeros_of(bench, run);
    if (zeros.sensor) {
        reading.value = reading.value - zeros.sensor->value;
        reading.trail.add(zeros.sensor->trail);
    }
    reading.trail.add(zeros.trail);
    reading.value = reading.value.named("D");
    return reading;
}

void missing(Bench& bench, LevelReading& level, const std::string& what)
{
    level.trail.undecide(fmt::format(
        "run {}{}: {}", bench.run(level.run).id,
        level.level_lx ? fmt::format(", level {} lx", model::numeral(*level.level_lx, 9)) : "", what));
}

SetRequest set_of(const std::string& device, const std::string& symbol, const LevelRows& rows)
{
    SetRequest request{device, rows.rows, level_identity(rows), device, symbol, rows.level_lx, ""};
    request.half = rows.half;
    if (!rows.half.empty())
        request.words += ", " + rows.half;
    return request;
}

/// Rows of a level that hold both readings.
std::vector<std::uint32_t> rows_of_pairs(const model::Run& run, const LevelRows& level)
{
    std::vector<std::uint32_t> both;
    for (const auto row : level.rows)
        if (run.holds("sensor", row) && run.holds("meter", row))
            both.push_back(row);
    return both;
}

/// Meter and product read together, E at the sensor by the position factor.
std::vector<LevelReading> side_by_side_levels(Bench& bench, std::size_t run,
                                              const std::vector<LevelRows>& levels)
{
    const auto& subject = bench.run(run);
    std::vector<SetRequest> sensors, meters;
    for (const auto& rows : levels) {
        if (rows_of_pairs(subject, rows).empty())
            continue;
        sensors.push_back(set_of("sensor", "D", rows));
        meters.push_back(set_of("meter", "R", rows));
    }
    const auto pairs = pairs_of(bench, run, sensors, meters);
    const auto position = position_run_of(bench, run);
    std::vector<LevelReading> found;
    std::size_t at = 0;
    for (const auto& rows : levels) {
        auto& level = found.emplace_back();
        level.run = run;
        level.level_lx = rows.level_lx;
        level.trail.runs.push_back(run);
        if (at == pairs.size() || sensors[at].level_lx != rows.level_lx) {
            missing(bench, level, "no row holds both readings");
            continue;
        }
        const auto& pair = pairs[at++];
        level.reading = product_reading(bench, run, pair.first);
        auto illuminance = illuminance_at_meter(bench, pair.second, at_level(bench, run, rows));
        if (position) {
            const auto factor = position_factor(bench, *position);
            illuminance.trail.add(factor.trail);
            if (factor.factor)
                illuminance.value = illuminance.value * *factor.factor;
        }
        illuminance.value = illuminance.value.named("E");
        level.illuminance = std::move(illuminance);
    }
    return found;
}

SequenceRequest sequence_request(const Bench& bench, std::size_t run, const LevelRows& rows)
{
    const auto& subject = bench.run(run);
    std::vector<std::uint32_t> read;
    std::vector<std::string> who;
    std::vector<std::size_t> positions;
    for (std::size_t i = 0; i < rows.rows.size(); ++i) {
        const auto row = rows.rows[i];
        const bool sensor = subject.holds("sensor", row);
        const bool meter = subject.holds("meter", row);
        if (!sensor && !meter)
            continue;
        read.push_back(row);
        who.emplace_back(sensor && meter ? "both" : sensor ? "sensor" : "meter");
        positions.push_back(rows.positions[i]);
    }
    SequenceRequest request;
    request.run = run;
    request.blocks = blocks_of(read, who, positions);
    request.identity = level_identity(rows);
    request.level_lx = rows.level_lx;
    request.column = {{"sensor", "sensor"}, {"meter", "meter"}};
    request.words = {{"sensor", "sensor"}, {"meter", "meter"}};
    request.symbol = {{"sensor", "D"}, {"meter", "R"}};
    if (std::ranges::find(who, "both") != who.end())
        request.blocks.clear();  // no sequence
    return request;
}

/// Meter and product at the same place one after the other.
std::vector<LevelReading> substitution_levels(Bench& bench, std::size_t run,
                                              const std::vector<LevelRows>& levels)
{
    std::vector<SequenceRequest> requests;
    for (const auto& rows : levels)
        requests.push_back(sequence_request(bench, run, rows));
    const auto sequences = sequences_of(bench, requests);
    std::vector<LevelReading> found;
    for (std::size_t i = 0; i < levels.size(); ++i) {
        auto& level = found.emplace_back();
        level.run = run;
        level.level_lx = levels[i].level_lx;
        level.trail.runs.push_back(run);
        if (!sequences[i]) {
            missing(bench, level,
                    "meter and product must come one after the other (and back), each row with the reading "
                    "of one of them");
            continue;
        }
        const auto& sequence = *sequences[i];
        const bool meter_brackets = sequence.bracketing_who == "meter";
        level.reading = product_reading(bench, run, meter_brackets ? sequence.between : sequence.bracketing);
        auto illuminance = illuminance_at_meter(
            bench, meter_brackets ? sequence.bracketing : sequence.between, at_level(bench, run, levels[i]));
        const auto placement =
            placement_factor(bench, run, bench.run_identity(run) + "/plane-offset", true, illuminance.trail);
        if (placement)
            illuminance.value = illuminance.value * *placement;
        if (sequence.source)
            illuminance.value = illuminance.value * *sequence.source;
        illuminance.trail.add(sequence.trail);
        illuminance.value = illuminance.value.named("E");
        level.illuminance = std::move(illuminance);
    }
    return found;
}

}  // namespace

const std::vector<LevelReading>& levels_of(Bench& bench, std::size_t run)
{
    if (const auto known = bench.recall_levels(run))
        return *known;
    const auto rows = rows_by_level(bench.run(run));
    auto levels = std::make_shared<const std::vector<LevelReading>>(
        bench.run(run).is_side_by_side() ? side_by_side_levels(bench, run, rows)
                                         : substitution_levels(bench, run, rows));
    bench.keep_levels(run, levels);
    return *levels;
}

std::vector<RowsOfSet> sets_of_levels(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    const bool together = subject.is_side_by_side();
    std::vector<RowsOfSet> sets;
    for (const auto& level : rows_by_level(subject)) {
        if (together) {
            const auto both = rows_of_pairs(subject, level);
            sets.push_back({"sensor", both});
            sets.push_back({"meter", both});
            continue;
        }
        const auto sequence = sequence_request(bench, run, level);
        if (is_sequence(sequence.blocks))
            for (const auto& block : sequence.blocks)
                sets.push_back({block.who, block.rows});
    }
    return sets;
}

Halves halves_of_levels(Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    Halves halves;
    if (!subject.is_side_by_side()) {
        for (auto level : levels_of(bench, run)) {
            level.reading.reset();
            level.illuminance.reset();
            missing(bench, level, "readings of a substitution cannot be parted into halves");
            halves.earlier.push_back(level);
            halves.later.push_back(level);
        }
        return halves;
    }
    std::vector<LevelRows> earlier, later;
    for (const auto& rows : rows_by_level(subject)) {
        const auto both = rows_of_pairs(subject, rows);
        const auto middle = both.begin() + static_cast<std::ptrdiff_t>((both.size() + 1) / 2);
        earlier.push_back({rows.level_lx, {both.begin(), middle}, {}, "earlier half"});
        later.push_back({rows.level_lx, {middle, both.end()}, {}, "later half"});
    }
    halves.earlier = side_by_side_levels(bench, run, earlier);
    halves.later = side_by_side_levels(bench, run, later);
    return halves;
}

model::Result level_result(const Bench& bench, const LevelReading& level, std::string metric,
                           std::string unit)
{
    model::Result result;
    result.metric = std::move(metric);
    result.sample = bench.run(level.run).sample;
    result.conditions = bench.conditions_of(level.run);
    if (level.level_lx)
        result.conditions["level"] = model::ConditionQuantity{*level.level_lx, "lx"};
    result.unit = std::move(unit);
    if (level.illuminance && std::isfinite(level.illuminance->value.value()))
        result.illuminance_lx = level.illuminance->value.value();
    return result;
}

double relative_uncertainty(Bench& bench, const Traced& illuminance)
{
    const double value = illuminance.value.value();
    if (illuminance.trail.uncertainty_unknown || !std::isfinite(value) || value == 0)
        return 0;
    const auto budget = uncertainty::propagate(bench.builder().graph(), illuminance.value.node(),
                                               bench.qualification().evaluation.coverage_probability);
    return budget.combined.standard_uncertainty / std::abs(value);
}

std::optional<std::string> says_nothing(double relative_uncertainty)
{
    constexpr double undecided_above = 0.25;
    if (!(relative_uncertainty > undecided_above))
        return std::nullopt;
    return fmt::format(
        "u(E)/E is {:.2f}, above {:.2f}: the relative error says nothing, judge the difference",
        relative_uncertainty, undecided_above);
}

}  // namespace luxdossier::metrics
