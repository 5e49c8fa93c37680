#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "model/selection.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

/// A substitution without return to the first device: its source input needs a log or a stated drift.
bool lacks_return(const Bench& bench, std::size_t run)
{
    if (bench.run(run).method != model::Method::substitution)
        return false;
    return std::ranges::none_of(bench.evaluation().sets, [&](const model::ReadingSet& set) {
        return set.run == run && set.place == "A2";
    });
}

/// Largest less smallest reading of the last 15 minutes of a log, relative to their mean.
std::optional<double> variation_in_15_minutes(const Bench& bench, std::size_t log)
{
    constexpr double window_s = 15.0 * 60.0;
    double last_s = -std::numeric_limits<double>::infinity();
    for (const auto row : bench.run(log).rows)
        if (!std::isnan(bench.cell(log, "meter", row)))
            last_s = std::max(last_s, bench.cell(log, "time", row));
    double lowest = std::numeric_limits<double>::infinity(), highest = -lowest, sum = 0.0;
    std::size_t n = 0;
    for (const auto row : bench.run(log).rows) {
        const double value = bench.cell(log, "meter", row);
        if (std::isnan(value) || !(bench.cell(log, "time", row) >= last_s - window_s))
            continue;
        lowest = std::min(lowest, value);
        highest = std::max(highest, value);
        sum += value;
        ++n;
    }
    const double mean = n > 0 ? sum / static_cast<double>(n) : 0.0;
    return mean > 0.0 ? std::optional((highest - lowest) / mean) : std::nullopt;
}

/// Runs that were read under a source, warm-up logs and waveforms aside.
std::vector<std::size_t> runs_under(const Bench& bench, const std::string& source)
{
    std::vector<std::size_t> runs;
    for (const auto kind : {model::RunKind::comparison, model::RunKind::position, model::RunKind::field_map,
                            model::RunKind::angular})
        for (const auto run : bench.runs_of(kind))
            if (bench.run(run).source == source)
                runs.push_back(run);
    return runs;
}

void examine_log(Bench& bench, std::size_t log)
{
    constexpr double steady = 0.005;
    const auto& subject = bench.run(log);
    const auto* source = bench.qualification().source(subject.source);
    if (source != nullptr && source->kind == model::SourceKind::led) {
        const auto variation = variation_in_15_minutes(bench, log);
        if (variation && *variation > steady)
            bench.raise({"not-warmed-up",
                         RemarkSeverity::concern,
                         subject.id,
                         fmt::format("source {}: largest less smallest reading of the last 15 min is {} %",
                                     subject.source, model::numeral(100.0 * *variation, 2)),
                         "the source is not steady in the sense of CIE S 025 (0.5 %)",
                         "let the source burn longer before readings start",
                         bench.results_of(log),
                         {}});
    }
    std::optional<double> warm_up_s;
    for (const auto index : bench.results_of(log, {"warm_up_time"}))
        warm_up_s = bench.evaluation().results[index].value;
    if (!warm_up_s || !subject.started)
        return;
    for (const auto run : runs_under(bench, subject.source)) {
        const auto& started = bench.run(run).started;
        if (!started || started->seconds < subject.started->seconds ||
            !(started->seconds < subject.started->seconds + *warm_up_s))
            continue;
        bench.raise(
            {"not-warmed-up",
             RemarkSeverity::concern,
             bench.run(run).id,
             fmt::format("{}: readings start {} s after source {} was switched on, which takes {} s",
                         bench.words(run), model::numeral(started->seconds - subject.started->seconds, 3),
                         subject.source, model::numeral(*warm_up_s, 3)),
             "the level still moves while it is read",
             "start readings after the warm-up time",
             bench.results_of(run),
             {}});
    }
}

/// Reading error that light of any waveform, never negative, may cause in an integration time: max(x, 1-x)/(f
/// T), x the fraction of a period that is left over (docs/metrics/ripple.md); 0 where whole
/// periods fit.
double ripple_bound(double frequency_hz, double integration_s)
{
    const double periods = frequency_hz * integration_s;
    const double whole = std::round(periods);
    if (whole > 0.0 && std::abs(periods - whole) <= 1e-9 * periods)
        return 0.0;
    const double left_over = periods - std::floor(periods);
    return std::max(left_over, 1.0 - left_over) / periods;
}

/// The ripple error that a waveform of the run's source tells for the product's integration time; none where
/// the run states a time of its own.
std::optional<double> waveform_error(const Bench& bench, std::size_t run)
{
    if (bench.run(run).conditions.contains("integration_time"))
        return std::nullopt;
    for (const auto& result : bench.evaluation().results) {
        const auto source = result.conditions.find("source");
        if (result.metric == "ripple_error" && !result.upper_bound && result.value &&
            result.undecided.empty() && source != result.conditions.end() &&
            source->second == model::ConditionValue(bench.run(run).source))
            return *result.value / 100.0;
    }
    return std::nullopt;
}

/// Median interval between the readings of one column.
std::optional<double> interval_s(const Bench& bench, std::size_t run)
{
    std::vector<double> steps;
    double last = std::nan("");
    for (const auto row : bench.run(run).rows) {
        const double time = bench.cell(run, "time", row);
        if (time > last)
            steps.push_back(time - last);
        if (!std::isnan(time) && !std::isnan(bench.cell(run, "sensor", row)))
            last = time;
    }
    if (steps.empty())
        return std::nullopt;
    std::ranges::nth_element(steps, steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2));
    return steps[steps.size() / 2];
}

}  // namespace

void not_warmed_up(Bench& bench)
{
    std::set<std::string> logged;
    for (const auto log : bench.runs_of(model::RunKind::warm_up)) {
        logged.insert(bench.run(log).source);
        examine_log(bench, log);
    }
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto& id = bench.run(run).source;
        if (logged.contains(id))
            continue;
        const auto* source = bench.qualification().source(id);
        const bool blocks = lacks_return(bench, run) && (source == nullptr || !source->drift);
        bench.raise({"not-warmed-up",
                     blocks ? RemarkSeverity::blocks : RemarkSeverity::concern,
                     bench.run(run).id,
                     fmt::format("{}: no warm-up log of {}", bench.words(run),
                                 id.empty() ? "its source" : "source " + id),
                     blocks ? "what the source did between meter and product is not known: not decided"
                            : "whether the source had settled is not known",
                     "log the source from switching on until it has settled",
                     bench.results_of(run),
                     {}});
    }
}

void ripple(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto* source = bench.qualification().source(bench.run(run).source);
        const auto& product_time = bench.qualification().product.integration_time;
        auto integration = model::condition_number(bench.run(run).conditions, "integration_time");
        if (!integration && product_time)
            integration = product_time->value;
        if (source == nullptr || source->supply == "dc" || !source->supply_frequency_hz || !integration ||
            !(*integration > 0.0))
            continue;
        // Light follows the mains at twice its frequency, and at the frequency itself where the halves
        // differ.
        const double frequency = *source->supply_frequency_hz;
        const auto from_waveform = waveform_error(bench, run);
        const double bound = from_waveform.value_or(
            std::max(ripple_bound(frequency, *integration), ripple_bound(2.0 * frequency, *integration)));
        std::vector<std::size_t> blocked;
        const Level* worst = nullptr;
        for (const auto& level : bench.levels_of(run))
            if (level.half_tolerance_lx && bound * level.illuminance_lx > *level.half_tolerance_lx / 3.0) {
                add_results(blocked, bench.results_of(run, level.nominal_lx));
                worst = worst == nullptr ? &level : worst;
            }
        if (worst != nullptr)
            bench.raise({"ripple",
                         RemarkSeverity::blocks,
                         bench.run(run).id,
                         fmt::format("{}: light at {} Hz may change a reading over {} s by up to "
                                     "{} %, and T/3 is "
                                     "{} % at {} lx",
                                     bench.words(run), model::numeral(frequency, 4),
                                     model::numeral(*integration, 4), model::numeral(100.0 * bound, 2),
                                     model::numeral(
                                         100.0 * *worst->half_tolerance_lx / 3.0 / worst->illuminance_lx, 2),
                                     model::numeral(worst->named_lx(), 4)),
                         "the ripple of the light may decide the verdict: not decided",
                         from_waveform ? "integrate over whole periods of the light"
                                       : "log the waveform, or integrate over whole periods of the mains",
                         std::move(blocked),
                         {}});
        const auto step = interval_s(bench, run);
        if (!step || !(bound > negligible_light))
            continue;
        // The alias is hidden where it does not run through one period within the readings of a level.
        const double cycles = 2.0 * frequency * *step;
        const double readings =
            std::max(2.0, static_cast<double>(bench.run(run).rows.size()) /
                              static_cast<double>(std::max<std::size_t>(bench.levels_of(run).size(), 1)));
        if (cycles >= 1.0 && std::abs(cycles - std::round(cycles)) < 1.0 / readings)
            bench.raise(
                {"ripple",
                 RemarkSeverity::concern,
                 bench.run(run).id,
                 fmt::format("{}: a reading every {} s falls on the same phase of light at {} Hz",
                             bench.words(run), model::numeral(*step, 4), model::numeral(2.0 * frequency, 4)),
                 "aliased sampling: the scatter of the readings does not show the ripple",
                 "read at intervals that are no multiple of the mains period",
                 bench.results_of(run),
                 {}});
    }
}

}  // namespace luxdossier::practice
