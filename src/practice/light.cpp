#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "practice/dark_runs.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

/// Foreign light at the levels of one run.
struct ForeignLight {
    std::string id, what, effect, advice;
    double light_lx = 0;
    bool may_block = true;
};

/// Raises a remark for the levels at which the light exceeds 0.2 % of E; it blocks those where it exceeds
/// T/3.
void raise_for_levels(Bench& bench, std::size_t run, const ForeignLight& light)
{
    std::vector<std::size_t> touched, blocked;
    const Level* worst = nullptr;
    const Level* worst_blocked = nullptr;
    for (const auto& level : bench.levels_of(run)) {
        if (!(light.light_lx > negligible_light * level.illuminance_lx))
            continue;
        if (light.may_block && level.half_tolerance_lx && light.light_lx > *level.half_tolerance_lx / 3.0) {
            add_results(blocked, bench.results_of(run, level.nominal_lx));
            worst_blocked = worst_blocked == nullptr ? &level : worst_blocked;
        } else {
            add_results(touched, bench.results_of(run, level.nominal_lx));
            worst = worst == nullptr ? &level : worst;
        }
    }
    const auto seen = [&](const Level& level) {
        return fmt::format("{}: {} is {} % of E at {} lx", bench.words(run), light.what,
                           model::numeral(100.0 * light.light_lx / level.illuminance_lx, 2),
                           model::numeral(level.named_lx(), 6));
    };
    if (worst_blocked != nullptr)
        bench.raise({light.id,
                     RemarkSeverity::blocks,
                     bench.run(run).id,
                     fmt::format("{}, and T/3 is {} lx", seen(*worst_blocked),
                                 model::numeral(*worst_blocked->half_tolerance_lx / 3.0, 2)),
                     "more than a third of the tolerance: the results of these levels are not decided",
                     light.advice,
                     std::move(blocked),
                     {}});
    if (worst != nullptr)
        bench.raise({light.id,
                     light.may_block ? RemarkSeverity::concern : RemarkSeverity::note,
                     bench.run(run).id,
                     seen(*worst),
                     light.effect,
                     light.advice,
                     std::move(touched),
                     {}});
}

/// The run with the source blocked that tells the ambient light of a run: the one it names, else any that
/// fits.
std::optional<std::size_t> blocked_run_of(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    std::optional<std::size_t> found;
    for (const auto candidate : bench.runs_of(model::RunKind::dark)) {
        const auto& dark = bench.run(candidate);
        if (condition_of(dark, "light") != "blocked" || bench.readings(candidate, "meter").empty() ||
            !compatible(dark.meter, subject.meter) || !compatible(dark.sample, subject.sample) ||
            !compatible(dark.configuration, subject.configuration) ||
            !compatible(condition_of(dark, "own_light"), condition_of(subject, "own_light")))
            continue;
        if (dark.id == subject.dark_run)
            return candidate;
        if (!found)
            found = candidate;
    }
    return found;
}

/// Two dark runs of the same devices under the same conditions.
bool are_alike(const model::Run& a, const model::Run& b)
{
    return a.sample == b.sample && a.configuration == b.configuration && a.meter == b.meter &&
           condition_of(a, "light") == condition_of(b, "light") &&
           condition_of(a, "own_light") == condition_of(b, "own_light");
}

/// Product's dark reading with its own light on less that with it off, in the dark; empty where one is
/// missing.
std::optional<double> own_light_lx(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    const auto runs = bench.runs_of(model::RunKind::dark);
    for (const auto on : runs) {
        if (condition_of(bench.run(on), "own_light") != "on" || bench.run(on).sample != subject.sample ||
            bench.run(on).configuration != subject.configuration)
            continue;
        for (const auto off : runs) {
            const auto& dark = bench.run(off);
            if (condition_of(dark, "own_light") != "off" || dark.sample != subject.sample ||
                dark.configuration != subject.configuration ||
                condition_of(dark, "light") != condition_of(bench.run(on), "light"))
                continue;
            const auto with = mean_of(bench, on, "sensor"), without = mean_of(bench, off, "sensor");
            if (with && without)
                return std::abs(with->mean - without->mean);
        }
    }
    return std::nullopt;
}

}  // namespace

void ambient_light(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto dark = blocked_run_of(bench, run);
        if (!dark)
            continue;
        const auto mean = mean_of(bench, *dark, "meter");
        const auto resolution = resolution_of(bench, *dark, "meter", mean->mean);
        // A reading of zero says no more than that the light is below half a step.
        const double bound = resolution ? *resolution / 2.0 : 0.0;
        const bool is_bound = std::abs(mean->mean) < bound;
        const auto stated = bench.run(run).ambient ? bench.run(run).ambient : bench.run(*dark).ambient;
        const bool subtracted =
            stated == model::Ambient::subtracted && bench.run(run).dark_run == bench.run(*dark).id;
        ForeignLight light;
        light.id = "ambient-light";
        light.what =
            fmt::format("ambient light {}{} lx (run {})", is_bound ? "below " : "of ",
                        model::numeral(std::max(std::abs(mean->mean), bound), 2), bench.run(*dark).id);
        light.effect = subtracted ? "it is subtracted; what it changed by between the readings remains"
                                  : "it stays in the readings of both devices, which may see it differently";
        light.advice =
            "darken the enclosure, or read the ambient light beside each level and state it as subtracted";
        light.light_lx = std::max(std::abs(mean->mean), bound);
        light.may_block = !subtracted;
        raise_for_levels(bench, run, light);
    }
}

void own_light(Bench& bench)
{
    if (bench.qualification().product.own_light != true)
        return;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto state = condition_of(bench.run(run), "own_light");
        if (state == "off")
            continue;
        const auto light_lx = own_light_lx(bench, run);
        if (state.empty() || !light_lx) {
            bench.raise(
                {"own-light",
                 RemarkSeverity::note,
                 bench.run(run).id,
                 state.empty()
                     ? fmt::format("{}: the state of the product's own light is not given", bench.words(run))
                     : fmt::format("{}: the product's own light was on, and no dark readings with it "
                                   "on and off tell what it adds",
                                   bench.words(run)),
                 "what the own light adds to the reading is not known",
                 "state own_light in the run's conditions, and take dark readings with it on and off",
                 bench.results_of(run),
                 {}});
            continue;
        }
        raise_for_levels(
            bench, run,
            {"own-light",
             fmt::format("the product's own light, on less off, {} lx,", model::numeral(*light_lx, 2)),
             "it is part of the product's reading and not of the illuminance",
             "read the levels with the own light off, or darken it at the sensor", *light_lx, true});
    }
}

void dark_missing(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        if (!bench.run(run).dark_run.empty())
            continue;
        // Without a dark reading the least that may stand unseen is one step of the meter.
        const auto step = step_of_meter_lx(bench, run);
        auto near_dark = step ? results_near_dark(bench, run, *step) : std::vector<std::size_t>{};
        const std::string advice =
            "take readings with both devices capped before and after, and name them as dark_run";
        if (!near_dark.empty())
            bench.raise({"dark-missing",
                         RemarkSeverity::blocks,
                         bench.run(run).id,
                         fmt::format("{}: no dark readings, and levels below {} lx (100 steps of the meter)",
                                     bench.words(run), model::numeral(dark_matters_below * *step, 3)),
                         "the zero of the meter is not known: the results of these levels are not decided",
                         advice,
                         std::move(near_dark),
                         {}});
        else
            bench.raise({"dark-missing",
                         RemarkSeverity::concern,
                         bench.run(run).id,
                         fmt::format("{}: no dark readings", bench.words(run)),
                         "the zero of the meter is taken as 0 without evidence",
                         advice,
                         bench.results_of(run),
                         {}});
    }
}

void dark_moved(Bench& bench)
{
    const auto darks = bench.runs_of(model::RunKind::dark);
    for (std::size_t i = 0; i < darks.size(); ++i) {
        for (std::size_t k = i + 1; k < darks.size(); ++k) {
            if (!are_alike(bench.run(darks[i]), bench.run(darks[k])))
                continue;
            for (const std::string_view column : {"meter", "sensor"}) {
                const auto before = mean_of(bench, darks[i], column),
                           after = mean_of(bench, darks[k], column);
                if (!before || !after)
                    continue;
                const double change = std::abs(after->mean - before->mean);
                const double u = std::hypot(before->standard_uncertainty, after->standard_uncertainty);
                if (!(change > 2.0 * u))
                    continue;
                std::vector<std::size_t> touched;
                for (const auto run : bench.runs_of(model::RunKind::comparison)) {
                    const auto& named = bench.run(run).dark_run;
                    if (named == bench.run(darks[i]).id || named == bench.run(darks[k]).id)
                        add_results(touched,
                                    results_near_dark(
                                        bench, run, std::max(std::abs(before->mean), std::abs(after->mean))));
                }
                bench.raise({"dark-moved",
                             touched.empty() ? RemarkSeverity::concern : RemarkSeverity::blocks,
                             bench.run(darks[k]).id,
                             fmt::format("{} in the dark: {} lx in run {} and {} lx in run {}; 2 u is {} lx",
                                         column, model::numeral(before->mean, 3), bench.run(darks[i]).id,
                                         model::numeral(after->mean, 3), bench.run(darks[k]).id,
                                         model::numeral(2.0 * u, 2)),
                             "levels below 100 times the dark reading are not decided",
                             "let the devices settle, and repeat the dark readings",
                             std::move(touched),
                             {}});
            }
        }
    }
}

}  // namespace luxdossier::practice
