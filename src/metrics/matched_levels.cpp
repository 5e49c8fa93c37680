#include "metrics/matched_levels.hpp"

#include "metrics/illuminance.hpp"
#include "metrics/position.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Levels that agree so far are compared as they are.
constexpr double agreement = 0.05;

/// Evaluated illuminance of a level; 0 where it has none that is above 0.
double illuminance_of(const LevelReading& level)
{
    const double value = level.illuminance ? level.illuminance->value.value() : 0.0;
    return std::isfinite(value) && value > 0 ? value : 0.0;
}

bool belongs(Bench& bench, std::size_t run, const LevelReading& level, const std::string& source)
{
    const auto& candidate = bench.run(run);
    const auto& subject = bench.run(level.run);
    return candidate.source == source && candidate.sample == subject.sample &&
           shared_conditions(bench, run, "source") == shared_conditions(bench, level.run, "source");
}

/// The best level of another source whose illuminance agrees.
const LevelReading* agreeing_level(Bench& bench, const LevelReading& level,
                                   const std::vector<std::size_t>& runs)
{
    const double wanted = illuminance_of(level);
    const LevelReading* best = nullptr;
    std::tuple<bool, bool, double> rank_of_best;
    for (const auto run : runs)
        for (const auto& candidate : levels_of(bench, run)) {
            const double found = illuminance_of(candidate);
            if (!candidate.reading || !(found > 0) ||
                std::max(wanted / found, found / wanted) - 1 > agreement)
                continue;
            const std::tuple rank{candidate.level_lx != level.level_lx,
                                  !same_distance(distance_m(bench, run), distance_m(bench, level.run)),
                                  std::abs(std::log(wanted / found))};
            if (best == nullptr || rank < rank_of_best) {
                best = &candidate;
                rank_of_best = rank;
            }
        }
    return best;
}

struct Neighbours {
    const LevelReading* below = nullptr;
    const LevelReading* above = nullptr;
};

/// The nearest levels of one run to both sides.
std::optional<Neighbours> neighbours_of(Bench& bench, double wanted_lx, std::size_t run)
{
    Neighbours found;
    for (const auto& candidate : levels_of(bench, run)) {
        const double at = illuminance_of(candidate);
        if (!candidate.reading || !(at > 0))
            continue;
        if (at < wanted_lx && (found.below == nullptr || at > illuminance_of(*found.below)))
            found.below = &candidate;
        if (at > wanted_lx && (found.above == nullptr || at < illuminance_of(*found.above)))
            found.above = &candidate;
    }
    return found.below != nullptr && found.above != nullptr ? std::optional(found) : std::nullopt;
}

Response interpolated(Bench& bench, const LevelReading& level, const Neighbours& at)
{
    auto below = response_of(bench, *at.below), above = response_of(bench, *at.above);
    Response found;
    found.trail = below.trail;
    found.trail.add(above.trail);
    if (!below.ratio || !above.ratio)
        return found;
    const auto& e_below = at.below->illuminance->value;
    const auto weight = natural_logarithm(level.illuminance->value / e_below) /
                        natural_logarithm(at.above->illuminance->value / e_below);
    const auto course = bench.rectangular(
        fmt::format("{}/interpolation={:g}..{:g}lx", bench.run_identity(at.below->run),
                    at.below->level_lx.value_or(e_below.value()),
                    at.above->level_lx.value_or(at.above->illuminance->value.value())),
        fmt::format("response of run {} between two levels", bench.run(at.below->run).id), "q_i", "1", 0,
        (above.ratio->value() - below.ratio->value()) / 2, "half of the difference of the two levels", true);
    found.ratio = *below.ratio + (*above.ratio - *below.ratio) * weight + course;
    return found;
}

}  // namespace

model::Conditions shared_conditions(const Bench& bench, std::size_t run, const std::string& name)
{
    auto conditions = bench.conditions_of(run);
    for (const auto& other : {name, std::string("distance"), std::string("meter_temperature")})
        conditions.erase(other);
    return conditions;
}

Response response_of(Bench& bench, const LevelReading& level)
{
    Response found;
    if (!level.reading || !level.illuminance) {
        found.trail = level.trail;
        return found;
    }
    const auto key = fmt::format("response/{}/{}", level.run, level.level_lx.value_or(-1.0));
    const auto* kept = bench.recall(key);
    if (kept == nullptr) {
        Traced response{level.reading->value / level.illuminance->value, level.reading->trail};
        response.trail.add(level.illuminance->trail);
        if (const auto reason = says_nothing(relative_uncertainty(bench, *level.illuminance)))
            response.trail.undecide(*reason);
        kept = &bench.keep(key, std::move(response));
    }
    found.ratio = kept->value;
    found.trail = kept->trail;
    return found;
}

std::optional<Response> response_under(Bench& bench, const LevelReading& level, const std::string& source)
{
    std::vector<std::size_t> runs;
    for (const auto run : bench.runs_of(model::RunKind::comparison))
        if (belongs(bench, run, level, source))
            runs.push_back(run);
    if (!(illuminance_of(level) > 0))
        return std::nullopt;
    if (const auto* agreeing = agreeing_level(bench, level, runs))
        return response_of(bench, *agreeing);
    for (const auto run : runs)
        if (const auto neighbours = neighbours_of(bench, illuminance_of(level), run))
            return interpolated(bench, level, *neighbours);
    return std::nullopt;
}

}  // namespace luxdossier::metrics
