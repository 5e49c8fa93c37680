#include "practice/dark_runs.hpp"

#include "model/numerals.hpp"
#include "practice/rules.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

/// Whose zero a run of this kind takes from a dark run. A comparison takes the meter's, and its dark run
/// tells what the product reads in the dark; position runs and field maps hold no product.
std::string_view needed_column(model::RunKind kind)
{
    return kind == model::RunKind::angular ? "sensor" : "meter";
}

bool holds_product(model::RunKind kind)
{
    return kind == model::RunKind::comparison || kind == model::RunKind::angular ||
           kind == model::RunKind::near_infrared;
}

/// How the best part of the dark run that a run names differs from what the run needs; empty where nothing
/// does.
struct Misfit {
    std::vector<std::string> differences;
    double dark_lx = 0;  ///< largest mean of the meter in the parts
};

Misfit misfit_of(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    Misfit misfit;
    bool any = false;
    for (const auto candidate : bench.runs_of(model::RunKind::dark)) {
        if (bench.run(candidate).id != subject.dark_run)
            continue;
        auto found = differences(bench, candidate, run, needed_column(subject.kind));
        if (!any || found.size() < misfit.differences.size())
            misfit.differences = std::move(found);
        any = true;
        if (const auto mean = mean_of(bench, candidate, "meter"))
            misfit.dark_lx = std::max(misfit.dark_lx, std::abs(mean->mean));
    }
    return misfit;
}

/// Results of readings that are so low that an unknown zero matters.
std::vector<std::size_t> results_touched(const Bench& bench, std::size_t run, double dark_lx)
{
    if (bench.run(run).kind == model::RunKind::comparison)
        return results_near_dark(bench, run, dark_lx);
    const auto mean = mean_of(bench, run, needed_column(bench.run(run).kind));
    const bool near = mean && mean->mean < dark_matters_below * dark_lx;
    return near ? bench.results_of(run) : std::vector<std::size_t>{};
}

}  // namespace

std::vector<std::string> differences(const Bench& bench, std::size_t dark_index, std::size_t run_index,
                                     std::string_view column)
{
    const auto& dark = bench.run(dark_index);
    const auto& run = bench.run(run_index);
    std::vector<std::string> found;
    const auto compare = [&found](std::string_view what, const std::string& of_dark,
                                  const std::string& of_run) {
        if (!compatible(of_dark, of_run))
            found.push_back(fmt::format("{} {}", what, of_dark));
    };
    if (column == "meter") {
        compare("meter", dark.meter, run.meter);
        if (dark.meter.empty() && bench.qualification().meters.size() > 1)
            found.emplace_back("no stated one of several meters");
    }
    if (holds_product(run.kind)) {
        compare("sample", dark.sample, run.sample);
        compare("configuration", dark.configuration, run.configuration);
        compare("own light", condition_of(dark, "own_light"), condition_of(run, "own_light"));
    }
    const bool is_read =
        run.kind != model::RunKind::near_infrared || !bench.readings(run_index, column).empty();
    if (is_read && bench.readings(dark_index, column).empty())
        found.push_back(fmt::format("no readings of the {}", column));
    return found;
}

std::optional<std::size_t> named_dark_run(const Bench& bench, std::size_t run, std::string_view column)
{
    for (const auto candidate : bench.runs_of(model::RunKind::dark))
        if (bench.run(candidate).id == bench.run(run).dark_run &&
            differences(bench, candidate, run, column).empty())
            return candidate;
    return std::nullopt;
}

std::optional<double> step_of_meter_lx(const Bench& bench, std::size_t run)
{
    if (const auto stated = resolution_of(bench, run, "meter", 0.0))
        return stated;
    std::optional<double> least;
    for (const auto& set : bench.evaluation().sets)
        if (set.run == run && set.column == "meter" && set.resolution)
            least = std::min(least.value_or(*set.resolution), *set.resolution);
    return least;
}

std::vector<std::size_t> results_near_dark(const Bench& bench, std::size_t run, double dark_lx)
{
    std::vector<std::size_t> results;
    for (const auto& level : bench.levels_of(run))
        if (level.illuminance_lx < dark_matters_below * dark_lx)
            add_results(results, level.results);
    return results;
}

void dark_of_another(Bench& bench)
{
    for (const auto kind : {model::RunKind::comparison, model::RunKind::position, model::RunKind::field_map,
                            model::RunKind::angular, model::RunKind::near_infrared}) {
        for (const auto run : bench.runs_of(kind)) {
            const auto& subject = bench.run(run);
            if (subject.dark_run.empty())
                continue;
            const auto misfit = misfit_of(bench, run);
            if (misfit.differences.empty())
                continue;
            const double dark_lx = std::max(misfit.dark_lx, step_of_meter_lx(bench, run).value_or(0.0));
            auto near_dark = results_touched(bench, run, dark_lx);
            const bool blocks = !near_dark.empty();
            auto seen = fmt::format("{}: the dark run {} is of another: {}", bench.words(run),
                                    subject.dark_run, fmt::join(misfit.differences, ", "));
            if (blocks)
                seen += fmt::format("; and levels below {} lx (100 times the dark)",
                                    model::numeral(dark_matters_below * dark_lx, 3));
            bench.raise(
                {"dark-of-another",
                 blocks ? RemarkSeverity::blocks : RemarkSeverity::concern,
                 subject.id,
                 std::move(seen),
                 blocks ? "what these devices read in the dark is not known: the results of these levels are "
                          "not decided"
                        : "what these devices read in the dark is not known",
                 "take dark readings with this sample, configuration, state of its own light and meter, and "
                 "name them as dark_run",
                 blocks ? std::move(near_dark) : bench.results_of(run),
                 {}});
        }
    }
}

}  // namespace luxdossier::practice
