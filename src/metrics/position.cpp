#include "metrics/position.hpp"

#include "metrics/families.hpp"
#include "metrics/illuminance.hpp"
#include "metrics/substitution.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Rows of a position run that hold a place and a reading, with the places.
struct Placed {
    std::vector<std::uint32_t> rows;
    std::vector<std::string> places;
    std::vector<std::size_t> positions;
};

Placed placed_rows(const Bench& bench, std::size_t run)
{
    Placed placed;
    const auto& table = bench.run(run).table;
    const auto* place = table ? table->text("place") : nullptr;
    if (place == nullptr)
        return placed;
    for (const auto row : bench.rows_with(run, "meter")) {
        placed.positions.push_back(placed.rows.size());
        placed.rows.push_back(row);
        placed.places.push_back(place->texts.at(place->values.at(row)));
    }
    return placed;
}

/// E of one place, with the placement of the meter there.
Traced illuminance_of_place(Bench& bench, std::size_t run, const ReadingMean& indication,
                            const std::string& place)
{
    const auto identity = bench.run_identity(run);
    auto illuminance =
        illuminance_at_meter(bench, indication, {run, identity, "in run " + bench.run(run).id});
    const auto placement =
        placement_factor(bench, run, fmt::format("{}/place={}/plane-offset", identity, place),
                         place == "sensor", illuminance.trail);
    if (placement)
        illuminance.value = illuminance.value * *placement;
    illuminance.value = illuminance.value.named(place == "sensor" ? "E_sensor" : "E_reference");
    return illuminance;
}

PositionFactor build(Bench& bench, std::size_t run)
{
    PositionFactor result;
    result.trail.runs.push_back(run);
    const auto placed = placed_rows(bench, run);
    SequenceRequest request;
    request.run = run;
    request.blocks = blocks_of(placed.rows, placed.places, placed.positions);
    request.column = {{"sensor", "meter"}, {"reference", "meter"}};
    request.words = {{"sensor", "meter at sensor"}, {"reference", "meter at reference"}};
    request.symbol = {{"sensor", "R_s"}, {"reference", "R_r"}};
    const bool known = std::ranges::all_of(
        request.blocks, [&](const Block& block) { return request.column.contains(block.who); });
    const auto sequence = known ? sequences_of(bench, {&request, 1}).front() : std::nullopt;
    if (!sequence) {
        result.trail.undecide(
            fmt::format("run {}: the places must come as reference, sensor (and back), each in one block",
                        bench.run(run).id));
        result.trail.uncertainty_unknown = true;
        return result;
    }
    const bool sensor_brackets = sequence->bracketing_who == "sensor";
    auto at_sensor = illuminance_of_place(
        bench, run, sensor_brackets ? sequence->bracketing : sequence->between, "sensor");
    const auto at_reference = illuminance_of_place(
        bench, run, sensor_brackets ? sequence->between : sequence->bracketing, "reference");
    if (sequence->source)
        at_sensor.value = at_sensor.value * *sequence->source;
    result.trail.add(at_sensor.trail);
    result.trail.add(at_reference.trail);
    result.trail.add(sequence->trail);
    result.factor = (at_sensor.value / at_reference.value).named("K");
    return result;
}

void evaluate_family(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::position)) {
        const auto position = position_factor(bench, run);
        model::Result result;
        result.metric = "position_factor";
        result.conditions = bench.conditions_of(run);
        result.unit = "1";
        if (position.factor)
            bench.add(std::move(result), {*position.factor, position.trail});
        else
            bench.add_undecided(std::move(result), position.trail.undecided.front(), position.trail);
    }
}

}  // namespace

PositionFactor position_factor(Bench& bench, std::size_t position_run)
{
    const auto key = bench.run_identity(position_run) + "/position-factor";
    if (const auto* known = bench.recall(key)) {
        const bool given = bench.recall(key + "/given") != nullptr;
        return {given ? std::optional(known->value) : std::nullopt, known->trail};
    }
    auto result = build(bench, position_run);
    bench.keep(key, {result.factor.value_or(Expression{}), result.trail});
    if (result.factor)
        bench.keep(key + "/given", {});
    return result;
}

bool same_distance(std::optional<double> a_m, std::optional<double> b_m)
{
    constexpr double tolerance = 0.01;
    return !a_m || !b_m || std::abs(*a_m - *b_m) <= tolerance * *b_m * (1 + 1e-9);
}

std::optional<std::size_t> position_run_of(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    std::optional<std::size_t> best;
    int best_score = -1;
    double least_far = 0;
    for (const auto candidate : bench.runs_of(model::RunKind::position)) {
        const auto& position = bench.run(candidate);
        if (std::ranges::find(subject.position_runs, position.id) == subject.position_runs.end())
            continue;
        const int score = (position.source == subject.source ? 4 : 0) +
                          (same_distance(distance_m(bench, run), distance_m(bench, candidate)) ? 2 : 0) +
                          (position.configuration == subject.configuration ? 1 : 0);
        const auto d = distance_m(bench, run);
        const auto other = distance_m(bench, candidate);
        const double far = d && other ? std::abs(*other - *d) : 0.0;
        if (score > best_score || (score == best_score && far < least_far)) {
            best = candidate;
            best_score = score;
            least_far = far;
        }
    }
    return best;
}

Family position_factor_family()
{
    Family family;
    family.info.id = "position-factor";
    family.info.title = "Position factor";
    family.info.question =
        "How much light reaches the sensor's place for each lux at the place of the reference meter?";
    family.info.method =
        "The reference meter was read at its own place, at the place of the sensor, and at its own place "
        "again, with the "
        "product or a dummy in place. What both readings share cancels: certificate, ageing, linearity and "
        "spectral inputs "
        "stay only as far as the two readings differ; placing the meter by hand counts once at each place.";
    family.info.formulas = {"K = E_sensor/E_reference", "E = (R - R_0) C A T L G F P",
                            "R_reference = R_1 + (R_2 - R_1) w + delta_S"};
    family.info.metrics = {{"position_factor",
                            "Position factor",
                            "1",
                            "K",
                            {"configuration", "source", "distance"},
                            false,
                            "illuminance at the sensor over illuminance at the reference position"}};
    family.evaluate = evaluate_family;
    return family;
}

}  // namespace luxdossier::metrics
