#include "metrics/families.hpp"
#include "metrics/figures.hpp"
#include "metrics/settled_log.hpp"
#include "metrics/warm_up_log.hpp"
#include "model/numerals.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

using uncertainty::InputQuantity;

constexpr double percent = 100;

/// One warm-up run while its results are made.
struct Subject {
    std::size_t run = 0;
    model::Conditions conditions;
    Trail trail;
    std::string identity;  ///< "run:warm-up"
    std::string source;    ///< in words
    std::optional<double> tolerance, window_s;
};

model::Result result_of(const Subject& subject, std::string metric, std::string unit)
{
    model::Result result;
    result.metric = std::move(metric);
    result.conditions = subject.conditions;
    result.unit = std::move(unit);
    return result;
}

Subject subject_of(const Bench& bench, std::size_t index, const std::string& visit)
{
    const auto& run = bench.run(index);
    Subject subject;
    subject.run = index;
    subject.conditions = bench.conditions_of(index);
    subject.conditions.erase("configuration");
    if (const auto level = run.conditions.find("level"); level != run.conditions.end())
        subject.conditions.insert(*level);
    subject.trail.runs = {index};
    subject.identity = bench.run_identity(index);
    if (!visit.empty()) {
        subject.conditions["visit"] = visit;
        subject.identity += "/visit=" + visit;
    }
    subject.source = run.source.empty() ? "the source" : run.source;
    if (const auto* source = bench.qualification().source(run.source))
        subject.tolerance = source->settling_tolerance;
    subject.window_s = bench.qualification().evaluation.settling_window_s;
    return subject;
}

/// Why nothing can be told of a log, or empty text.
std::string fault_of(const LevelLog& log, const Subject& subject)
{
    if (!subject.window_s)
        return "evaluation.settling_window is not stated";
    if (log.time_s.size() < 2)
        return "the warm-up log holds fewer than two readings";
    if (!std::ranges::is_sorted(log.time_s))
        return "the times of the warm-up log decrease";
    if (!(log.time_s.back() > log.time_s.front()))
        return "all readings of the warm-up log have the same time";
    return {};
}

void add_all_undecided(Bench& bench, const Subject& subject, const std::string& reason)
{
    for (const auto& metric : warm_up_family().info.metrics)
        bench.add_undecided(result_of(subject, metric.id, metric.unit), reason, subject.trail);
}

InputQuantity type_a(std::string identity, std::string quantity, std::string symbol, std::string unit)
{
    InputQuantity input;
    input.identity = std::move(identity);
    input.quantity = std::move(quantity);
    input.symbol = std::move(symbol);
    input.unit = std::move(unit);
    input.evaluation = uncertainty::Evaluation::type_a;
    input.distribution = uncertainty::Distribution::student_t;
    return input;
}

constexpr const char* searched_crossing =
    "settling is found by filtering the log and searching for its last crossing";

void add_warm_up_time(Bench& bench, const Subject& subject, const Settling& settling)
{
    auto result = result_of(subject, "warm_up_time", "s");
    auto trail = subject.trail;
    if (!settling.unsettled.empty())
        trail.undecide(settling.unsettled);
    if (!settling.time_s) {
        bench.add_undecided(std::move(result), settling.unsettled, trail);
        return;
    }
    if (!settling.unknown.empty()) {
        result.without_recipe = searched_crossing;
        bench.add_value(std::move(result), *settling.time_s, trail);
        return;
    }
    const auto interval =
        bench.rectangular(subject.identity + "/log_interval", "log interval", "delta_h", "s", 0,
                          settling.interval_s / 2, "median interval of the log", true);
    auto time = bench.constant(*settling.time_s) + interval;
    if (settling.flat || settling.always_inside) {
        auto scatter = type_a(subject.identity + "/crossing",
                              "scatter of the crossing, circular block bootstrap", "delta_t", "s");
        scatter.standard_uncertainty = settling.bootstrap_u_s;
        scatter.degrees_of_freedom = settling.noise_degrees_of_freedom;
        scatter.note = fmt::format("2000 resamples, seed {}", bench.qualification().evaluation.seed);
        time = time + bench.input(scatter);
        bench.state(
            "warm-up",
            fmt::format("{}; the uncertainty of the warm-up time is that of 2000 resamples of a circular "
                        "block bootstrap, seed {}",
                        settling.always_inside
                            ? "no filtered reading lies outside the settling tolerance"
                            : "the level crosses the settling tolerance too flatly for its slope",
                        bench.qualification().evaluation.seed),
            "source " + subject.source);
    } else {
        auto noise = type_a(subject.identity + "/filtered_noise", "noise of the filtered level, relative",
                            "epsilon_L", "1");
        noise.standard_uncertainty = settling.filtered_standard_deviation;
        noise.degrees_of_freedom = settling.noise_degrees_of_freedom;
        noise.note = "standard deviation of the filtered level in the last window";
        time = time + bench.input(noise) / std::abs(*settling.slope_per_s);
    }
    bench.add(std::move(result), {time.named("t_w"), trail});
}

/// Smallest difference between consecutive readings that is not 0: the step of a log that is at rest in its
/// window.
std::optional<double> step_of(std::span<const double> levels)
{
    std::optional<double> step;
    for (std::size_t i = 0; i + 1 < levels.size(); ++i) {
        const double difference = std::abs(levels[i + 1] - levels[i]);
        if (difference > 0 && (!step || difference < *step))
            step = difference;
    }
    return step;
}

void add_residual_drift(Bench& bench, const Subject& subject, const LastWindow& window, const LevelLog& log)
{
    auto result = result_of(subject, "residual_drift", "%");
    if (window.n < 3 || !std::isfinite(window.u_slope_per_s)) {
        bench.add_undecided(std::move(result), "the last window holds fewer than three readings",
                            subject.trail);
        return;
    }
    auto slope =
        type_a(subject.identity + "/window_slope", "slope over the last window, relative", "b", "1/s");
    slope.estimate = window.slope_per_s;
    slope.standard_uncertainty = window.u_slope_per_s;
    slope.degrees_of_freedom = static_cast<double>(window.n - 2);
    slope.note = fmt::format("least squares over the last {} readings", window.n);
    auto drift = bench.input(slope) * *subject.window_s;
    if (window.u_slope_per_s == 0) {
        // No scatter about the line at all: the step of the log is what hides the drift.
        const auto step = step_of(log.level);
        if (!step) {
            bench.add_undecided(std::move(result),
                                "all readings of the log are equal: it shows no resolution", subject.trail);
            return;
        }
        drift = drift + bench.rectangular(subject.identity + "/resolution", "resolution of the log, relative",
                                          "delta_q", "1", 0, *step / 2 / window.final_level,
                                          "no scatter in the last window; smallest step in the log", true);
    }
    bench.add(std::move(result), {drift * percent, subject.trail});
}

void add_window_values(Bench& bench, const Subject& subject, const LastWindow& window)
{
    auto span = result_of(subject, "level_peak_to_peak", "%");
    auto scatter = result_of(subject, "level_standard_deviation", "%");
    span.without_recipe = scatter.without_recipe = "the last window of the log is no single range of cells";
    bench.add_value(std::move(span), percent * window.peak_to_peak, subject.trail);
    if (window.n < 2)
        bench.add_undecided(std::move(scatter), "the last window holds one reading", subject.trail);
    else
        bench.add_value(std::move(scatter), percent * window.standard_deviation, subject.trail);
}

void add_stability(Bench& bench, const Subject& subject, const Settling& settling, const LevelLog& settled)
{
    auto minimum = result_of(subject, "stability_minimum", "%");
    auto averaging = result_of(subject, "stability_averaging_time", "s");
    auto trail = subject.trail;
    if (!settling.unsettled.empty())
        trail.undecide(settling.unsettled);
    const auto least = stability_minimum(settled.level, settling.interval_s);
    if (!least) {
        const std::string reason =
            settling.unsettled.empty() ? "fewer than three readings after warm-up" : settling.unsettled;
        bench.add_undecided(std::move(minimum), reason, trail);
        bench.add_undecided(std::move(averaging), reason, trail);
        return;
    }
    minimum.without_recipe = averaging.without_recipe =
        "the least Allan deviation is searched for over many averaging times";
    bench.add_value(std::move(minimum), percent * least->deviation / settling.window.final_level, trail);
    bench.add_value(std::move(averaging), least->averaging_time_s, trail);
}

/// The part of a log from the warm-up time on.
LevelLog settled_part(const LevelLog& log, const Settling& settling)
{
    if (!settling.time_s)
        return {};
    const double from = log.time_s.front() + *settling.time_s;
    const auto first =
        static_cast<std::size_t>(std::ranges::lower_bound(log.time_s, from) - log.time_s.begin());
    return {log.time_s.subspan(first), log.level.subspan(first)};
}

void state_filter(Bench& bench, const Subject& subject, const Settling& settling)
{
    bench.state("warm-up",
                fmt::format("settling filter, centred mean of {} readings (log interval {} s, window "
                            "{} s); final level, mean of the last {} readings",
                            2 * settling.half_length + 1, model::numeral(settling.interval_s, 4),
                            model::numeral(*subject.window_s, 4), settling.window.n),
                "source " + subject.source);
}

void evaluate_log(Bench& bench, std::size_t run, const LogOfRun& kept)
{
    const auto subject = subject_of(bench, run, kept.visit);
    const auto& log = kept.log;
    SettledLog left;
    left.run = run;
    left.kept = kept.copies;
    const auto leave = [&](std::string unsettled) {
        left.unsettled = std::move(unsettled);
        const auto* before = bench.settled_log(bench.run(run).source);
        if (before == nullptr || (!before->unsettled.empty() && left.unsettled.empty()))
            bench.leave_settled_log(bench.run(run).source, std::move(left));
    };
    if (const auto fault = fault_of(log, subject); !fault.empty()) {
        add_all_undecided(bench, subject, fault);
        return leave(fault);
    }
    const auto window = last_window(log, *subject.window_s);
    if (!(window.final_level > 0)) {
        const std::string fault = "the final level of the warm-up log is not above zero";
        add_all_undecided(bench, subject, fault);
        return leave(fault);
    }
    if (!subject.tolerance || !(*subject.tolerance > 0)) {
        const auto reason = fmt::format("no settling_tolerance is stated for {}", subject.source);
        bench.add_undecided(result_of(subject, "warm_up_time", "s"), reason, subject.trail);
        add_residual_drift(bench, subject, window, log);
        add_window_values(bench, subject, window);
        bench.add_undecided(result_of(subject, "stability_minimum", "%"), reason, subject.trail);
        bench.add_undecided(result_of(subject, "stability_averaging_time", "s"), reason, subject.trail);
        return leave(reason);
    }
    const auto settling =
        settle(log, *subject.tolerance, *subject.window_s, bench.qualification().evaluation.seed);
    state_filter(bench, subject, settling);
    add_warm_up_time(bench, subject, settling);
    add_residual_drift(bench, subject, window, log);
    add_window_values(bench, subject, window);
    const auto settled = settled_part(log, settling);
    add_stability(bench, subject, settling, settled);
    if (settling.unsettled.empty()) {
        left.time_s = settled.time_s;
        left.level = settled.level;
    }
    leave(settling.unsettled);
}

}  // namespace

Family warm_up_family()
{
    Family family;
    auto& info = family.info;
    info.id = "warm-up";
    info.title = "Warm-up and stability of the sources";
    info.question = "When may readings start, and how steady is each source then?";
    info.method =
        "A steady detector logged each source from switching on. The log was filtered by a centred mean (its "
        "length is stated below); the final level is the mean of the unfiltered readings in the last window. "
        "The "
        "warm-up time counts from the first reading to the last passage of the filtered level through the "
        "settling tolerance. Drift, peak-to-peak value and standard deviation are those of the unfiltered "
        "readings in the last window; the stability is the least overlapping Allan deviation of the level "
        "after warm-up.";
    info.formulas = {"u^2(t_w) = h^2/12 + (u_L/|dL/dt|)^2", "residual drift = b x window/L_final x 100 %"};
    info.metrics = {
        {"warm_up_time",
         "Warm-up time",
         "s",
         "t_w",
         {"source"},
         false,
         "Time from the first reading until the level stays within the settling tolerance of its final "
         "value."},
        {"residual_drift",
         "Residual drift",
         "%",
         "d",
         {"source"},
         false,
         "Least-squares slope of the level over the last window, times the window, relative to the final "
         "level."},
        {"level_peak_to_peak",
         "Peak-to-peak level",
         "%",
         "L_pp",
         {"source"},
         false,
         "Greatest less least reading in the last window, relative to the final level."},
        {"level_standard_deviation",
         "Standard deviation of the level",
         "%",
         "s_L",
         {"source"},
         false,
         "Standard deviation of the readings in the last window, relative to the final level."},
        {"stability_minimum",
         "Least Allan deviation",
         "%",
         "sigma_y",
         {"source"},
         false,
         "Least overlapping Allan deviation of the relative level after warm-up."},
        {"stability_averaging_time",
         "Averaging time of the least Allan deviation",
         "s",
         "tau_y",
         {"source"},
         false,
         "Averaging time at which the overlapping Allan deviation is least."},
    };
    family.evaluate = [](Bench& bench) {
        for (const auto run : bench.runs_of(model::RunKind::warm_up))
            for (const auto& log : logs_of(bench.run(run)))
                evaluate_log(bench, run, log);
    };
    family.figures = warm_up_figures;
    return family;
}

}  // namespace luxdossier::metrics
