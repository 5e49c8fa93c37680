#include "metrics/families.hpp"
#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"
#include "metrics/levels.hpp"

#include "model/selection.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

using model::CorrectionRequest;

/// The fit uses levels whose reading is at least this many steps: below, the step itself is the error.
constexpr double least_steps = 20;
/// Runs in a chamber at another temperature would bend the line: they take no part.
constexpr double same_temperature_k = 5;

/// Readings that one correction serves: all, or those of one sample, under one source, or both.
struct Group {
    std::string sample, source;
    std::vector<LevelReading> earlier, later;
    Trail trail;
};

struct Line {
    std::optional<Expression> gain, offset;
    std::string undecided;
    Trail trail;
};

using HalvesOfRuns = std::map<std::size_t, Halves>;

bool takes_part(const Bench& bench, std::size_t run, const CorrectionRequest& request)
{
    const auto& subject = bench.run(run);
    if (subject.configuration != request.configuration)
        return false;
    const auto temperature = model::condition_number(subject.conditions, "temperature");
    const auto reference = bench.qualification().reference_temperature_k;
    return !temperature || !reference || std::abs(*temperature - *reference) <= same_temperature_k;
}

std::vector<Group> groups_of(Bench& bench, const CorrectionRequest& request, HalvesOfRuns& halves)
{
    std::vector<Group> groups;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        if (!takes_part(bench, run, request))
            continue;
        const auto sample = request.per_sample ? bench.run(run).sample : std::string{};
        const auto source = request.per_source ? bench.run(run).source : std::string{};
        auto found = std::ranges::find_if(
            groups, [&](const Group& group) { return group.sample == sample && group.source == source; });
        if (found == groups.end())
            found = groups.insert(groups.end(), Group{sample, source, {}, {}, {}});
        auto known = halves.find(run);
        if (known == halves.end())
            known = halves.emplace(run, halves_of_levels(bench, run)).first;
        std::ranges::copy(known->second.earlier, std::back_inserter(found->earlier));
        std::ranges::copy(known->second.later, std::back_inserter(found->later));
        found->trail.runs.push_back(run);
    }
    return groups;
}

bool is_complete(const LevelReading& level)
{
    return level.reading && level.illuminance && level.reading->trail.decided() &&
           level.illuminance->trail.decided() && !level.illuminance->trail.uncertainty_unknown;
}

/// Whether a level lies where the line is fitted: decided, read in steps fine enough, within the stated
/// levels.
bool is_in_range(const Bench& bench, const CorrectionRequest& request, const LevelReading& level)
{
    const auto& resolution = bench.qualification().product.resolution;
    const double least = resolution ? least_steps * resolution->value : 0.0;
    if (!is_complete(level) || !(level.illuminance->value.value() > 0) ||
        !(level.reading->value.value() > 0) || level.reading->value.value() < least)
        return false;
    const double at = level.level_lx.value_or(level.illuminance->value.value());
    return at >= request.lowest_lx.value_or(0) * (1 - 1e-9) &&
           (!request.highest_lx || at <= *request.highest_lx * (1 + 1e-9));
}

std::vector<const LevelReading*> fitted_levels(const Bench& bench, const CorrectionRequest& request,
                                               const Group& group)
{
    std::vector<const LevelReading*> levels;
    for (const auto& level : group.earlier)
        if (is_in_range(bench, request, level))
            levels.push_back(&level);
    return levels;
}

/// Sums over the levels of p^2, p r, r^2, p and r with r = D/E and p = 1/E.
struct Sums {
    Expression pp, pr, rr, p, r;
};

Sums sums_of(const std::vector<const LevelReading*>& levels, bool with_offset)
{
    Sums sums;
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const auto& e = levels[i]->illuminance->value;
        const auto r = levels[i]->reading->value / e;
        sums.rr = i == 0 ? r * r : sums.rr + r * r;
        sums.r = i == 0 ? r : sums.r + r;
        if (!with_offset)
            continue;
        const auto p = 1.0 / e;
        sums.pp = i == 0 ? p * p : sums.pp + p * p;
        sums.pr = i == 0 ? p * r : sums.pr + p * r;
        sums.p = i == 0 ? p : sums.p + p;
    }
    return sums;
}

/// The line of least squares of the relative error (a + b D - E)/E.
Line line_of(Bench& bench, const CorrectionRequest& request, const Group& group)
{
    Line line;
    line.trail = group.trail;
    const auto levels = fitted_levels(bench, request, group);
    for (const auto* level : levels) {
        line.trail.add(level->reading->trail);
        line.trail.add(level->illuminance->trail);
    }
    if (levels.empty()) {
        line.undecided = "no decided level within the range of the fit whose reading is at least 20 steps";
        return line;
    }
    const auto sums = sums_of(levels, request.with_offset);
    if (!request.with_offset) {
        line.gain = (sums.r / sums.rr).named("b");
        return line;
    }
    const auto determinant = sums.pp * sums.rr - sums.pr * sums.pr;
    if (!(determinant.value() > 1e-9 * sums.pp.value() * sums.rr.value())) {
        line.undecided = "readings at one illuminance tell a gain, not a gain and an offset";
        return line;
    }
    line.gain = ((sums.pp * sums.r - sums.pr * sums.p) / determinant).named("b");
    line.offset = ((sums.rr * sums.p - sums.pr * sums.r) / determinant).named("a");
    return line;
}

void add_line(Bench& bench, const CorrectionRequest& request, const Group& group, const Line& line)
{
    model::Result gain;
    gain.metric = "correction_gain";
    gain.sample = group.sample;
    gain.unit = "1";
    gain.conditions["correction"] = request.id;
    if (!request.configuration.empty())
        gain.conditions["configuration"] = request.configuration;
    if (!group.source.empty())
        gain.conditions["source"] = group.source;
    auto offset = gain;
    offset.metric = "correction_offset";
    offset.unit = "lx";
    if (!line.undecided.empty()) {
        bench.add_undecided(std::move(gain), line.undecided, line.trail);
        if (request.with_offset)
            bench.add_undecided(std::move(offset), line.undecided, line.trail);
        return;
    }
    bench.add(std::move(gain), {*line.gain, line.trail});
    if (line.offset)
        bench.add(std::move(offset), {*line.offset, line.trail});
}

/// Greatest error of the later half in the range of the fit, before and after, for the sentence of the
/// chapter.
struct Greatest {
    double before = 0, after = 0;
    std::size_t levels = 0;
};

void add_remaining(Bench& bench, const CorrectionRequest& request, const LevelReading& level,
                   const Line& line, Greatest& greatest)
{
    auto result = level_result(bench, level, "remaining_error", "%");
    result.conditions["correction"] = request.id;
    auto trail = line.trail;
    if (!level.reading || !level.illuminance) {
        trail.add(level.trail);
        bench.add_undecided(std::move(result), level.trail.undecided.front(), trail);
        return;
    }
    trail.add(level.reading->trail);
    trail.add(level.illuminance->trail);
    if (!line.undecided.empty()) {
        bench.add_undecided(std::move(result), line.undecided, trail);
        return;
    }
    if (const auto reason = says_nothing(relative_uncertainty(bench, *level.illuminance)))
        trail.undecide(*reason);
    const auto& d = level.reading->value;
    const auto& e = level.illuminance->value;
    const auto corrected = line.offset ? *line.offset + *line.gain * d : *line.gain * d;
    const auto error = ((corrected / e - 1.0) * 100.0).named("e_c");
    if (trail.decided() && is_in_range(bench, request, level)) {
        greatest.before = std::max(greatest.before, std::abs(d.value() / e.value() - 1) * 100);
        greatest.after = std::max(greatest.after, std::abs(error.value()));
        ++greatest.levels;
    }
    bench.add(std::move(result), {error, trail});
}

void evaluate_correction(Bench& bench, const CorrectionRequest& request, HalvesOfRuns& halves)
{
    Greatest greatest;
    const auto groups = groups_of(bench, request, halves);
    if (groups.empty()) {
        Line none;
        none.undecided =
            fmt::format("no comparison run{} at the reference temperature",
                        request.configuration.empty() ? std::string{} : " of " + request.configuration);
        add_line(bench, request, {}, none);
    }
    for (const auto& group : groups) {
        const auto line = line_of(bench, request, group);
        add_line(bench, request, group, line);
        for (const auto& level : group.later)
            add_remaining(bench, request, level, line, greatest);
    }
    if (greatest.levels > 0)
        bench.state(
            "correction",
            fmt::format("Correction {}: where the line is fitted, the greatest reading error of the later "
                        "half is {} % before and {} % after ({} readings).",
                        request.id, short_text(greatest.before), short_text(greatest.after),
                        greatest.levels));
}

void evaluate_family(Bench& bench)
{
    HalvesOfRuns halves;
    for (const auto& request : bench.qualification().corrections)
        evaluate_correction(bench, request, halves);
}

}  // namespace

Family correction_family()
{
    Family family;
    family.info.id = "correction";
    family.info.title = "Correction of the product";
    family.info.question = "Which correction would the product need, and what error would remain?";
    family.info.method =
        "A gain, with an offset where asked for, is fitted to the earlier half of the readings of each level "
        "by least squares of the relative error, every level with the same weight; levels below 20 steps of "
        "the reading take no part. The error that remains is that of the later half, which the fit has not "
        "seen. Both halves share the illuminance's inputs but for the readings, and with them what they have "
        "in common.";
    family.info.formulas = {"D_c = a + b D", "e_c = (D_c/E - 1) x 100 %"};
    const std::vector<std::string> conditions{"correction", "configuration", "source"};
    family.info.metrics = {{"correction_gain", "Gain of the correction", "1", "b", conditions, true,
                            "factor by which the product's reading is to be multiplied"},
                           {"correction_offset", "Offset of the correction", "lx", "a", conditions, true,
                            "illuminance that is to be added to the multiplied reading"},
                           {"remaining_error",
                            "Reading error that remains",
                            "%",
                            "e_c",
                            {"correction", "configuration", "source", "level"},
                            true,
                            "relative deviation of the corrected reading from the illuminance, on readings "
                            "the fit has not seen"}};
    family.evaluate = evaluate_family;
    family.figures = correction_figures;
    return family;
}

}  // namespace luxdossier::metrics
