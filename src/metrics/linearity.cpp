#include "metrics/families.hpp"
#include "metrics/figures.hpp"
#include "metrics/levels.hpp"
#include "metrics/linearity_weights.hpp"

#include "statistics/line.hpp"
#include "uncertainty/propagation.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Levels of one run, by rising illuminance; runs that a distance column split belong together.
struct Series {
    std::vector<const LevelReading*> levels;
    std::vector<double> e_lx, d_lx;
    std::vector<Expression> arguments;  ///< E_1..E_n, D_1..D_n
    Trail trail;
    [[nodiscard]] std::size_t size() const { return levels.size(); }
    [[nodiscard]] const Expression& illuminance(std::size_t i) const { return levels[i]->illuminance->value; }
    [[nodiscard]] const Expression& reading(std::size_t i) const { return levels[i]->reading->value; }
    [[nodiscard]] std::size_t run() const { return levels.front()->run; }
};

/// A reference line on the graph, and the levels whose deviation from it is zero by construction.
struct ReferenceLine {
    std::string name;
    Expression offset, gain;
    std::set<std::size_t> zero_at;
};

constexpr std::size_t fewest_levels = 3;

/// What tells series apart: distance and meter temperature may change from level to level.
model::Conditions key_conditions(const Bench& bench, std::size_t run)
{
    auto conditions = bench.conditions_of(run);
    conditions.erase("distance");
    conditions.erase("meter_temperature");
    return conditions;
}

/// The conditions that all levels of a series share.
model::Conditions series_conditions(const Bench& bench, const Series& series)
{
    auto shared = bench.conditions_of(series.run());
    for (const auto* level : series.levels) {
        const auto conditions = bench.conditions_of(level->run);
        std::erase_if(shared, [&](const auto& condition) {
            const auto found = conditions.find(condition.first);
            return found == conditions.end() || found->second != condition.second;
        });
    }
    return shared;
}

std::string series_key(const Bench& bench, std::size_t run)
{
    return bench.run(run).id + model::result_id("", bench.run(run).sample, key_conditions(bench, run));
}

std::vector<Series> all_series(Bench& bench)
{
    std::vector<std::string> keys;
    std::vector<Series> all;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto key = series_key(bench, run);
        auto found = static_cast<std::size_t>(std::ranges::find(keys, key) - keys.begin());
        if (found == keys.size()) {
            keys.push_back(key);
            all.emplace_back();
        }
        auto& series = all[found];
        for (const auto& level : levels_of(bench, run)) {
            const bool whole = level.reading && level.illuminance &&
                               std::isfinite(level.reading->value.value()) &&
                               std::isfinite(level.illuminance->value.value());
            if (whole)
                series.levels.push_back(&level);
        }
    }
    for (auto& series : all) {
        std::ranges::stable_sort(series.levels, {},
                                 [](const LevelReading* level) { return level->illuminance->value.value(); });
        for (const auto* level : series.levels) {
            series.e_lx.push_back(level->illuminance->value.value());
            series.d_lx.push_back(level->reading->value.value());
            series.trail.add(level->reading->trail);
            series.trail.add(level->illuminance->trail);
            series.arguments.push_back(level->illuminance->value);
        }
        for (const auto* level : series.levels)
            series.arguments.push_back(level->reading->value);
    }
    return all;
}

model::Result series_result(const Bench& bench, const Series& series, std::string metric, std::string unit)
{
    model::Result result;
    result.metric = std::move(metric);
    result.sample = bench.run(series.run()).sample;
    result.conditions = series_conditions(bench, series);
    result.unit = std::move(unit);
    return result;
}

ReferenceLine estimated_line(Bench& bench, const Series& series, std::string name,
                             std::shared_ptr<const uncertainty::Estimator> estimator)
{
    const auto outputs = bench.builder().estimate(std::move(estimator), series.arguments);
    return {std::move(name), outputs.at(0).named("a"), outputs.at(1).named("b"), {}};
}

ReferenceLine terminal_line(const Series& series)
{
    const auto last = series.size() - 1;
    const auto gain =
        (series.reading(last) - series.reading(0)) / (series.illuminance(last) - series.illuminance(0));
    const auto offset = series.reading(0) - gain * series.illuminance(0);
    return {"terminal-based", offset.named("a"), gain.named("b"), {0, last}};
}

Expression deviation_from(const Series& series, const ReferenceLine& line, std::size_t level)
{
    return series.reading(level) - line.offset - line.gain * series.illuminance(level);
}

/// A minimax line that other points could hold: h - |d_i| < 2 u(h - |d_i|) for a level that does not hold it.
bool has_competing_set(Bench& bench, const Series& series, const ReferenceLine& line,
                       const std::vector<std::size_t>& active)
{
    if (series.trail.uncertainty_unknown || active.empty())
        return false;
    const auto holds = [&](std::size_t level) {
        return std::ranges::find(active, level) != active.end() || line.zero_at.contains(level);
    };
    const auto greatest = absolute_value(deviation_from(series, line, active.front()));
    for (std::size_t level = 0; level < series.size(); ++level) {
        if (holds(level))
            continue;
        const auto gap = greatest - absolute_value(deviation_from(series, line, level));
        const auto budget = uncertainty::propagate(bench.builder().graph(), gap.node(),
                                                   bench.qualification().evaluation.coverage_probability);
        if (gap.value() < 2 * budget.combined.standard_uncertainty)
            return true;
    }
    return false;
}

std::size_t remark_competing_set(Bench& bench, const Series& series, const std::string& lines)
{
    const auto& run = bench.run(series.run());
    model::Remark remark;
    remark.id = "competing-set";
    remark.severity = model::RemarkSeverity::concern;
    remark.run = run.id;
    remark.seen = fmt::format("{} {}: other levels could hold the {} as well as those that hold it",
                              run.sample, run.configuration, lines);
    remark.effect =
        "deviations from it are judged on the first order, which knows only the levels that hold it now";
    remark.advice = "judge the least-squares line, or take more readings a level";
    return bench.remark(std::move(remark));
}

void add_deviations(Bench& bench, const Series& series, const ReferenceLine& line, const Trail& trail)
{
    const auto span = series.reading(series.size() - 1) - series.reading(0);
    for (std::size_t level = 0; level < series.size(); ++level) {
        if (line.zero_at.contains(level))
            continue;
        const auto deviation = deviation_from(series, line, level);
        for (const bool of_reading : {true, false}) {
            auto result = level_result(bench, *series.levels[level], "linearity_deviation", "%");
            const auto stated = result.conditions.find("level");
            auto conditions = series_conditions(bench, series);
            if (stated != result.conditions.end())
                conditions["level"] = stated->second;
            conditions["line"] = line.name;
            conditions["relative_to"] = std::string(of_reading ? "reading" : "span");
            result.conditions = std::move(conditions);
            const auto relative =
                (deviation / (of_reading ? series.reading(level) : span) * 100.0).named("delta");
            bench.add(std::move(result), {relative, trail});
        }
    }
}

/// Reasons that concern deviations only: without f3 nothing tells the meter's linearity from the product's.
Trail deviation_trail(const Bench& bench, const Series& series)
{
    auto trail = series.trail;
    const auto* meter = bench.qualification().meter(bench.run(series.run()).meter);
    if (meter != nullptr && !meter->linearity)
        trail.undecide(fmt::format(
            "the linearity (f3) of meter {} is not stated: its deviations cannot be told from the product's",
            meter->id));
    return trail;
}

void least_squares(Bench& bench, const Series& series)
{
    auto gain = series_result(bench, series, "gain", "1");
    auto offset = series_result(bench, series, "offset", "lx");
    const auto weights = series.trail.uncertainty_unknown
                             ? std::nullopt
                             : line_weights(bench, series.arguments, series.e_lx, series.d_lx);
    if (!weights) {
        auto reason = series.trail.undecided.empty()
                          ? std::string("no weights: a level has no uncertainty of its own")
                          : series.trail.undecided.front();
        bench.add_undecided(std::move(gain), reason, series.trail);
        bench.add_undecided(std::move(offset), reason, series.trail);
        return;
    }
    const auto line =
        estimated_line(bench, series, "least-squares", statistics::weighted_line_estimator(*weights));
    bench.add(std::move(gain), {line.gain, series.trail});
    bench.add(std::move(offset), {line.offset, series.trail});
    add_deviations(bench, series, line, deviation_trail(bench, series));
}

/// The two minimax lines; one remark says which of them other levels could hold.
void minimax(Bench& bench, const Series& series)
{
    const auto fit = statistics::fit_minimax(series.e_lx, series.d_lx);
    const auto fit_through_first = statistics::fit_minimax_through_first(series.e_lx, series.d_lx);
    const auto independent =
        estimated_line(bench, series, "independent", statistics::minimax_line_estimator(false));
    auto zero_based = estimated_line(bench, series, "zero-based", statistics::minimax_line_estimator(true));
    zero_based.zero_at.insert(0);
    const auto trail = deviation_trail(bench, series);
    auto trail_independent = trail;
    auto trail_zero_based = trail;
    const bool first = has_competing_set(bench, series, independent, fit.active);
    const bool second = has_competing_set(bench, series, zero_based, fit_through_first.active);
    if (first || second) {
        const auto remark = remark_competing_set(bench, series,
                                                 first && second ? "independent and the zero-based line"
                                                 : first         ? "independent line"
                                                                 : "zero-based line");
        if (first)
            trail_independent.remarks.push_back(remark);
        if (second)
            trail_zero_based.remarks.push_back(remark);
    }
    add_deviations(bench, series, independent, trail_independent);
    add_deviations(bench, series, zero_based, trail_zero_based);
}

void slope(Bench& bench, const Series& series)
{
    auto result = series_result(bench, series, "log_log_slope", "1");
    const auto positive = [](double value) { return value > 0; };
    if (!std::ranges::all_of(series.e_lx, positive) || !std::ranges::all_of(series.d_lx, positive)) {
        bench.add_undecided(std::move(result), "a reading that is not positive has no logarithm",
                            series.trail);
        return;
    }
    const auto output =
        bench.builder().estimate(statistics::log_log_slope_estimator(), series.arguments).front();
    bench.add(std::move(result), {output.named("gamma"), series.trail});
}

void evaluate_family(Bench& bench)
{
    for (const auto& series : all_series(bench)) {
        if (series.size() < fewest_levels)
            continue;
        const bool distinct = std::ranges::adjacent_find(series.e_lx) == series.e_lx.end();
        if (!distinct) {
            bench.add_undecided(series_result(bench, series, "gain", "1"),
                                "two levels have the same illuminance", series.trail);
            continue;
        }
        least_squares(bench, series);
        minimax(bench, series);
        add_deviations(bench, series, terminal_line(series), deviation_trail(bench, series));
        slope(bench, series);
    }
}

}  // namespace

Family linearity_family()
{
    Family family;
    family.info.id = "linearity";
    family.info.title = "Linearity";
    family.info.question = "How far does the reading stray from a straight line over the levels?";
    family.info.method = "The mean readings D of one run are compared with straight lines on the "
                         "illuminances E: independent (least greatest "
                         "deviation), zero-based (the same, through the lowest level) and terminal-based "
                         "(through the end levels), as IEC "
                         "61298-2 means them, and the weighted least-squares line, which also gives gain and "
                         "offset. Its weights hold what "
                         "acts on one level alone. Every input is propagated through the whole line: what "
                         "all levels share moves the gain and "
                         "leaves the deviations. Deviations that are zero by construction are not listed.";
    family.info.formulas = {"delta = (D - a - b E)/D x 100 % of reading",
                            "delta = (D - a - b E)/(D_last - D_first) x 100 % of span",
                            "w = 1/(u^2(D) + b^2 u^2(E))", "gamma = slope of ln D on ln E"};
    family.info.metrics = {
        {"gain", "Gain", "1", "b", {"configuration", "source"}, true, "slope of the least-squares line"},
        {"offset",
         "Offset",
         "lx",
         "a",
         {"configuration", "source"},
         true,
         "reading of the least-squares line without light"},
        {"linearity_deviation",
         "Deviation from the line",
         "%",
         "delta",
         {"configuration", "source", "level", "line", "relative_to"},
         true,
         "reading less the reference line, relative to the reading or to the span of readings"},
        {"log_log_slope",
         "Slope in logarithms",
         "1",
         "gamma",
         {"configuration", "source"},
         true,
         "unweighted slope of the logarithm of the reading on that of the illuminance"}};
    family.evaluate = evaluate_family;
    family.figures = linearity_figures;
    return family;
}

}  // namespace luxdossier::metrics
