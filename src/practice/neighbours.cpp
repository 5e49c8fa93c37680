#include "practice/rules.hpp"

#include "model/numerals.hpp"
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

/// By how much u of a mean of many readings grows.
double factor_of(const model::Device& device)
{
    return std::sqrt((1 + device.r) / (1 - device.r));
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

void examine_device(Bench& bench, std::size_t index)
{
    const auto& device = bench.evaluation().devices[index];
    if (!(factor_of(device) > least_factor))
        return;
    std::size_t silent = 0;  // sets whose own readings show no autocorrelation
    std::vector<std::size_t> touched;
    for (const auto& set : bench.evaluation().sets) {
        if (set.device != index || set.by_itself || set.is_half || !set.input)
            continue;
        silent += set.autocorrelated ? 0 : 1;
        add_results(touched, results_resting_on(bench, set));
    }
    if (touched.empty())
        return;
    model::Remark remark;
    remark.id = "alike-neighbours";
    remark.severity = model::RemarkSeverity::note;
    remark.seen = fmt::format(
        "{}: neighbouring readings are alike (r = {} with standard deviation {}, from {:.0f} readings in "
        "{:.0f} sets), which {} sets do not show by themselves: u of their means is up to {} times "
        "larger",
        device.words, model::numeral(device.r, 2), model::numeral(1 / std::sqrt(device.weight), 1),
        device.readings, device.sets, silent, model::numeral(factor_of(device), 2));
    remark.effect = "u and degrees of freedom of these means take it into account";
    remark.advice = "read at longer intervals, or take more readings a level";
    remark.results = std::move(touched);
    bench.raise(std::move(remark));
}

}  // namespace

void alike_neighbours(Bench& bench)
{
    for (std::size_t device = 0; device < bench.evaluation().devices.size(); ++device)
        examine_device(bench, device);
}

}  // namespace luxdossier::practice
