#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "statistics/summary.hpp"
#include "uncertainty/propagation.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::ReadingSet;

/// Above this a mean's larger uncertainty is worth a remark, where the set has at least this share of a
/// result's variance (common practice, no source).
constexpr double least_factor = 1.2, least_share = 0.2;

/// By how much u of a mean grows.
double factor_of(const statistics::LagOne& lag)
{
    const double r = lag.corrected();
    return std::sqrt((1 + r) / (1 - r));
}

/// Results that rest by a fifth or more on the scatter of one set.
std::vector<std::size_t> results_resting_on(const Bench& bench, const ReadingSet& set)
{
    std::vector<std::size_t> resting;
    for (const auto index : bench.results_of(set.run, set.level_lx)) {
        const auto& result = bench.evaluation().results[index];
        if (!result.node || !result.combined)
            continue;
        const auto budget = bench.evaluation().budget(result);
        const auto line = std::ranges::find_if(
            budget.lines, [&set](const auto& one) { return one.input.index == set.input->index; });
        if (line != budget.lines.end() && line->share >= least_share)
            resting.push_back(index);
    }
    return resting;
}

void examine_device(Bench& bench, std::size_t run, const std::string& column)
{
    statistics::LagOne lag;
    std::vector<const ReadingSet*> silent;  // their own readings show no autocorrelation
    for (const auto& set : bench.evaluation().sets) {
        if (set.run != run || set.column != column || set.is_half || set.n < 3 || !set.input)
            continue;
        std::vector<double> values;
        for (const auto row : set.rows)
            values.push_back(bench.cell(run, column, row));
        lag.add(values);
        if (!set.autocorrelated)
            silent.push_back(&set);
    }
    if (silent.empty() || !(lag.readings > 2 * lag.sets + 1) || !lag.is_significant() ||
        !(factor_of(lag) > least_factor))
        return;
    std::vector<std::size_t> touched;
    for (const auto* set : silent)
        add_results(touched, results_resting_on(bench, *set));
    if (touched.empty())
        return;
    model::Remark remark;
    remark.id = "alike-neighbours";
    remark.severity = model::RemarkSeverity::concern;
    remark.run = bench.run(run).id;
    remark.seen = fmt::format(
        "{}: neighbouring readings of the {} are alike (r1 = {} over {:.0f} readings, u of a mean {} times "
        "larger), and {} of {:.0f} sets do not show it",
        bench.words(run), column == "sensor" ? "product" : column, model::numeral(lag.r1(), 2), lag.readings,
        model::numeral(factor_of(lag), 2), silent.size(), lag.sets);
    remark.effect = "u of means from sets that do not show it is smaller than it should be, by that factor";
    remark.advice = "take 20 readings or more a level, or read at longer intervals";
    remark.results = std::move(touched);
    bench.raise(std::move(remark));
}

}  // namespace

void alike_neighbours(Bench& bench)
{
    for (const auto run : bench.runs_of(model::RunKind::comparison))
        if (bench.run(run).time_ordered)
            for (const auto* column : {"sensor", "meter"})
                examine_device(bench, run, column);
}

}  // namespace luxdossier::practice
