#include "workbook/means.hpp"

#include "workbook/log_window.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {

using uncertainty::Input;

// Half-widths that the evaluation takes from readings: what the source did between two means, and between the
// first and the last readings of a scan at 0 degree. As everywhere in this class a formula counts only where
// it gives the number that was evaluated.

namespace {

/// "run:bare/level=10lx" of "run:bare/level=10lx/A1/meter/mean": what stands before the n-th slash.
std::vector<std::string> prefixes(const std::string& identity)
{
    std::vector<std::string> result;
    for (auto slash = identity.find('/'); slash != std::string::npos; slash = identity.find('/', slash + 1))
        result.push_back(identity.substr(0, slash));
    return result;
}

}  // namespace

std::optional<Term> MeanFormulas::bracketing(std::size_t before, std::size_t after) const
{
    const auto& sets = dossier_.evaluation.sets;
    const auto& inputs = dossier_.evaluation.graph.inputs();
    std::string squares;
    double sum = 0;
    for (const auto set : {before, after})
        for (const auto& input : {sets[set].input, sets[set].resolution_input})
            if (input) {
                squares += fmt::format("{}{}", squares.empty() ? "" : ",", map_.uncertainty(*input));
                sum += std::pow(inputs[input->index].standard_uncertainty, 2);
            }
    if (squares.empty())
        return {};
    return Term{
        fmt::format("MAX(ABS({}-{}),SQRT(SUMSQ({})))/2/SQRT(3)", map_.set_cell(after, column::set_mean),
                    map_.set_cell(before, column::set_mean), squares),
        std::max(std::abs(sets[after].mean - sets[before].mean), std::sqrt(sum)) / 2 / std::sqrt(3.0)};
}

std::vector<Term> MeanFormulas::drifts(std::size_t set) const
{
    const auto where = areas(set);
    if (where.size() < 2)
        return {};
    const auto values = readings(set);
    const auto mean_of_area = [&](const Area& area) {
        double total = 0;
        for (auto i = area.from; i <= area.to; ++i)
            total += values[i];
        return total / static_cast<double>(area.to - area.from + 1);
    };
    const auto average = [&](const Area& area) {
        return fmt::format("AVERAGE({})", range_reference(*area.sheet, area.first, area.last));
    };
    const double change = std::abs(mean_of_area(where.back()) - mean_of_area(where.front()));
    const auto& graph = dossier_.evaluation.graph;
    std::vector<Term> result;
    for (const auto node : map_.nodes()) {
        if (graph.name(node) != "D_ref")
            continue;
        const auto reference = map_.value(node);
        result.push_back({fmt::format("ABS({}-{})/(2*{})/SQRT(3)", average(where.back()),
                                      average(where.front()), reference.text),
                          change / (2 * reference.value) / std::sqrt(3.0)});
    }
    return result;
}

void MeanFormulas::write_half_widths()
{
    const auto& graph = dossier_.evaluation.graph;
    const auto& sets = dossier_.evaluation.sets;
    const auto offer = [&](std::size_t set, const char* name, const std::vector<Term>& terms) {
        for (const auto& prefix : prefixes(graph.inputs()[sets[set].input->index].identity)) {
            const auto input = graph.find_input(prefix + name);
            if (!input || !graph.inputs()[input->index].from_readings)
                continue;
            const double expected = graph.inputs()[input->index].standard_uncertainty;
            for (const auto& term : terms)
                if (std::abs(term.value - expected) <= 1e-9 * expected &&
                    !uncertainties_.contains(input->index))
                    uncertainties_[input->index] = term;
        }
    };
    for (std::size_t after = 0; after < sets.size(); ++after) {
        if (!sets[after].input)
            continue;
        if (sets[after].place == "A2")
            for (std::size_t before = 0; before < after; ++before)
                if (sets[before].run == sets[after].run && sets[before].place == "A1" && sets[before].input &&
                    sets[before].level_lx == sets[after].level_lx)
                    if (const auto term = bracketing(before, after))
                        offer(after, "/source", {*term});
        if (sets[after].n > 1 && dossier_.qualification.runs[sets[after].run].kind == model::RunKind::angular)
            offer(after, "/drift", drifts(after));
    }
}

void MeanFormulas::write_slopes()
{
    const auto& inputs = dossier_.evaluation.graph.inputs();
    std::vector<std::uint32_t> slopes;
    for (std::uint32_t index = 0; index < inputs.size(); ++index)
        if (inputs[index].identity.ends_with("/window_slope"))
            slopes.push_back(index);
    const auto agree = [](const Term& term, double expected) {
        return std::isfinite(term.value) && std::abs(term.value - expected) <= 1e-9 * std::abs(expected);
    };
    for (std::size_t run = 0; run < dossier_.qualification.runs.size() && !slopes.empty(); ++run) {
        const auto window = LogWindow::of(dossier_, map_, run);
        if (!window)
            continue;
        const auto slope = window->slope(), u = window->slope_uncertainty();
        for (const auto index : slopes)
            if (agree(slope, inputs[index].estimate) && agree(u, inputs[index].standard_uncertainty)) {
                estimates_[index] = slope;
                uncertainties_[index] = u;
                freedoms_[index] = window->freedom();
            }
    }
}

}  // namespace luxdossier::workbook
