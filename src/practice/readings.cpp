#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "model/selection.hpp"
#include "statistics/line.hpp"
#include "statistics/summary.hpp"
#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <functional>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::ReadingSet;
using model::RemarkSeverity;

constexpr std::size_t few = 10;

/// Sets of a comparison or position run, one run after the other.
void for_sets_of_runs(Bench& bench,
                      const std::function<void(std::size_t, const std::vector<const ReadingSet*>&)>& tell)
{
    for (const auto kind : {model::RunKind::comparison, model::RunKind::position})
        for (const auto run : bench.runs_of(kind)) {
            std::vector<const ReadingSet*> sets;
            for (const auto& set : bench.evaluation().sets)
                if (set.run == run && !set.is_half)
                    sets.push_back(&set);
            if (!sets.empty())
                tell(run, sets);
        }
}

std::vector<double> values_of(const Bench& bench, const ReadingSet& set)
{
    std::vector<double> values;
    for (const auto row : set.rows)
        values.push_back(bench.cell(set.run, set.column, row));
    return values;
}

/// Where a set was read: "meter at 100 lx".
std::string place_of(const ReadingSet& set)
{
    if (set.level_lx)
        return fmt::format("{} at {} lx", set.column, model::numeral(*set.level_lx, 6));
    return set.place.empty() ? set.column : fmt::format("{} at {}", set.column, set.place);
}

std::vector<std::size_t> results_of_set(const Bench& bench, const ReadingSet& set)
{
    return bench.results_of(set.run, set.level_lx);
}

/// Sets of one run to which a rule applies: how many, the worst, and the results they touch.
struct Hits {
    std::size_t count = 0;
    double worst = 0;
    const ReadingSet* at = nullptr;
    std::vector<std::size_t> results;
    void add(const Bench& bench, const ReadingSet& set, double size)
    {
        ++count;
        if (at == nullptr || size > worst) {
            worst = size;
            at = &set;
        }
        add_results(results, results_of_set(bench, set));
    }
};

/// Change from the first to the last third of a set, in standard uncertainties of that change; 0 below six
/// readings.
double change_between_thirds(const Bench& bench, const ReadingSet& set)
{
    const auto values = values_of(bench, set);
    const auto third = values.size() / 3;
    if (third < 2 || !(set.standard_uncertainty > 0.0))
        return 0.0;
    const auto all = std::span(values);
    const double change =
        std::abs(statistics::summarise(all.last(third)).mean - statistics::summarise(all.first(third)).mean);
    // u of the mean of n holds the autocorrelation; a third of the readings has sqrt(3) times as much.
    const double u = set.standard_uncertainty *
                     std::sqrt(2.0 * static_cast<double>(values.size()) / static_cast<double>(third));
    const double step = set.resolution ? *set.resolution / std::sqrt(6.0) : 0.0;
    return change / std::hypot(u, step);
}

/// Slope times duration in u_A where the slope is significant at 1 %, else 0.
double significant_trend(const Bench& bench, const ReadingSet& set)
{
    const auto values = values_of(bench, set);
    if (values.size() < 3 || !(set.standard_uncertainty > 0.0))
        return 0.0;
    std::vector<double> times;
    for (std::size_t index = 0; index < values.size(); ++index) {
        const double time = bench.cell(set.run, "time", set.rows[index]);
        times.push_back(std::isnan(time) ? static_cast<double>(index) : time);
    }
    const auto [first, last] = std::ranges::minmax(times);
    if (!(last > first))
        return 0.0;
    const auto fit = statistics::fit_line(times, values);
    const double critical = uncertainty::t_quantile(0.995, fit.degrees_of_freedom);
    if (!(std::abs(fit.line.gain) > critical * fit.standard_uncertainty_gain))
        return 0.0;
    return std::abs(fit.line.gain) * (last - first) / set.standard_uncertainty;
}

/// Raises a remark for the sets of each run whose figure exceeds 2.
void raise_above_two(Bench& bench, const std::string& id, double (*figure)(const Bench&, const ReadingSet&),
                     std::string_view words, const std::string& effect, const std::string& advice)
{
    for_sets_of_runs(bench, [&](std::size_t run, const std::vector<const ReadingSet*>& sets) {
        if (!bench.run(run).time_ordered)
            return;
        Hits hits;
        for (const auto* set : sets)
            if (const double size = figure(bench, *set); size > 2.0)
                hits.add(bench, *set, size);
        if (hits.count > 0)
            bench.raise({id,
                         RemarkSeverity::note,
                         bench.run(run).id,
                         fmt::format("{}: {} of {} sets of readings {}, most the {} ({} u)", bench.words(run),
                                     hits.count, sets.size(), words, place_of(*hits.at),
                                     model::numeral(hits.worst, 2)),
                         effect,
                         advice,
                         std::move(hits.results),
                         {}});
    });
}

/// Longest series of consecutive readings at the ceiling, level by level; the row where the first of three
/// stands.
struct Saturation {
    std::optional<double> level_lx;
    std::uint32_t row = 0;
};
std::vector<Saturation> saturations(const Bench& bench, std::size_t run, double ceiling_lx)
{
    constexpr std::size_t consecutive = 3;
    std::vector<Saturation> found;
    const auto stated = model::condition_number(bench.run(run).conditions, "level");
    std::size_t series = 0;
    std::optional<double> last_level;
    for (const auto row : bench.run(run).rows) {
        const double value = bench.cell(run, "sensor", row);
        if (std::isnan(value))
            continue;
        const double column = bench.cell(run, "level", row);
        const auto level = std::isnan(column) ? stated : std::optional(column);
        series = value >= ceiling_lx * (1.0 - 1e-9) ? (level == last_level ? series + 1 : 1) : 0;
        last_level = level;
        if (series == consecutive)
            found.push_back({level, row});
    }
    return found;
}

}  // namespace

void not_settled(Bench& bench)
{
    raise_above_two(bench, "not-settled", change_between_thirds,
                    "differ from their first to their last third",
                    "the source or a device may not have settled after the level was set",
                    "wait longer after each change of level");
}

void trend(Bench& bench)
{
    raise_above_two(bench, "trend", significant_trend, "have a significant slope",
                    "the mean holds a drift that its standard deviation does not tell",
                    "bracket the readings (A-B-A), or let source and devices settle");
}

void few_readings(Bench& bench)
{
    for_sets_of_runs(bench, [&](std::size_t run, const std::vector<const ReadingSet*>& sets) {
        std::size_t fewest = few, count = 0;
        std::vector<std::size_t> touched;
        for (const auto* set : sets) {
            if (set->n >= few)
                continue;
            ++count;
            fewest = std::min(fewest, set->n);
            add_results(touched, results_of_set(bench, *set));
        }
        double least_nu = few;
        std::size_t of_low_nu = 0;
        for (const auto index : bench.results_of(run)) {
            const auto& combined = bench.evaluation().results[index].combined;
            if (!combined || !(combined->degrees_of_freedom < few))
                continue;
            least_nu = std::min(least_nu, combined->degrees_of_freedom);
            ++of_low_nu;
            touched.push_back(index);
        }
        if (touched.empty())
            return;
        auto seen = bench.words(run) + ": ";
        if (count > 0)
            seen += fmt::format("{} of {} sets have fewer than 10 readings, the fewest {}", count,
                                sets.size(), fewest);
        if (of_low_nu > 0)
            seen +=
                fmt::format("{}{} result{} fewer than 10 effective degrees of freedom, the least {:.0f}",
                            count > 0 ? "; " : "", of_low_nu, of_low_nu == 1 ? " has" : "s have", least_nu);
        bench.raise({"few-readings",
                     RemarkSeverity::note,
                     bench.run(run).id,
                     std::move(seen),
                     "coverage factors are large and the standard deviations themselves uncertain",
                     "take 10 readings or more a level",
                     std::move(touched),
                     {}});
    });
}

void saturated(Bench& bench)
{
    const auto& ceiling = bench.qualification().product.ceiling;
    if (!ceiling)
        return;
    for (const auto kind : {model::RunKind::comparison, model::RunKind::angular})
        for (const auto run : bench.runs_of(kind))
            for (const auto& at : saturations(bench, run, ceiling->value))
                bench.raise({"saturated",
                             RemarkSeverity::blocks,
                             bench.run(run).id,
                             fmt::format("{}: three consecutive readings at the ceiling of {} lx, the "
                                         "third in data row {}",
                                         bench.words(run), model::numeral(ceiling->value, 6), at.row + 1),
                             "the product cannot tell the level: its results are not decided",
                             "leave the level out of the range of use, or set a lower one",
                             bench.results_of(run, at.level_lx),
                             {}});
}

void coarse_resolution(Bench& bench)
{
    for_sets_of_runs(bench, [&](std::size_t run, const std::vector<const ReadingSet*>& sets) {
        Hits noted, blocked;
        for (const auto* set : sets) {
            if (!set->resolution)
                continue;
            const double q = *set->resolution;
            const auto& levels = bench.levels_of(run);
            const auto level = std::ranges::find(levels, set->level_lx, &Level::nominal_lx);
            const auto half = level == levels.end() ? std::nullopt : level->half_tolerance_lx;
            if (half && q > *half)
                blocked.add(bench, *set, q / *half);
            else if (set->standard_deviation < q / 2.0 || (half && q > *half / 5.0))
                noted.add(bench, *set, q / std::abs(set->mean));
        }
        if (blocked.count > 0)
            bench.raise({"coarse-resolution",
                         RemarkSeverity::blocks,
                         bench.run(run).id,
                         fmt::format("{}: {} of {} sets have a step above the tolerance, most the {} ({} T)",
                                     bench.words(run), blocked.count, sets.size(), place_of(*blocked.at),
                                     model::numeral(blocked.worst, 2)),
                         "one step decides the verdict: not decided",
                         "read with a finer step",
                         std::move(blocked.results),
                         {}});
        if (noted.count > 0)
            bench.raise(
                {"coarse-resolution",
                 RemarkSeverity::note,
                 bench.run(run).id,
                 fmt::format(
                     "{}: {} of {} sets scatter by less than half a step or have a step above T/5, most the "
                     "{} (step {} % of the reading)",
                     bench.words(run), noted.count, sets.size(), place_of(*noted.at),
                     model::numeral(100.0 * noted.worst, 2)),
                 "the step of the reading is an input of its own",
                 "read with a finer step",
                 std::move(noted.results),
                 {}});
    });
}

void outlier(Bench& bench)
{
    for_sets_of_runs(bench, [&](std::size_t run, const std::vector<const ReadingSet*>& sets) {
        for (const auto* set : sets) {
            // Grubbs' test supposes independent normal readings: not on steps, not on autocorrelated sets.
            if (set->autocorrelated || (set->resolution && set->standard_deviation < *set->resolution))
                continue;
            const auto values = values_of(bench, *set);
            const auto found = statistics::grubbs(values);
            if (!found)
                continue;
            const bool beyond_1_percent = found->statistic > found->critical_1;
            bench.raise({"outlier",
                         beyond_1_percent ? RemarkSeverity::concern : RemarkSeverity::note,
                         bench.run(run).id,
                         fmt::format("{}: {}, data row {}: {} lx, G = {:.2f} above {:.2f}", bench.words(run),
                                     place_of(*set), set->rows[found->index] + 1,
                                     model::numeral(values[found->index], 6), found->statistic,
                                     beyond_1_percent ? found->critical_1 : found->critical_5),
                         beyond_1_percent
                             ? "an outlier at 1 % (Grubbs); it counts until it is excluded with a reason"
                             : "a straggler at 5 % (Grubbs); it counts",
                         "find the cause; exclude the row only with a reason",
                         results_of_set(bench, *set),
                         {}});
        }
    });
}

}  // namespace luxdossier::practice
