#include "workbook/neighbours.hpp"

#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

const std::string sheet = "neighbours";

bool agrees(double found, double expected)
{
    return std::abs(found - expected) <= 1e-9 * std::max(std::abs(expected), 1e-3);
}

std::uint32_t row_of(std::size_t index)
{
    return first_row + static_cast<std::uint32_t>(index);
}

}  // namespace

NeighbourFormulas::NeighbourFormulas(const model::Dossier& dossier, const CellMap& map)
    : dossier_(dossier), map_(map), devices_(dossier.evaluation.devices.size()), sums_(devices_.size()),
      weights_(devices_.size())
{
    for (const auto& set : dossier.evaluation.sets)
        if (set.device)
            number_at_.emplace(std::pair{*set.device, set.n}, 0);
    for (auto& [key, at] : number_at_) {
        at = numbers_.size();
        numbers_.push_back({key.first, key.second, {}, {}, {}, {}});
    }
}

void NeighbourFormulas::take(std::size_t set, double r1, double s)
{
    const auto& of_set = dossier_.evaluation.sets[set];
    const auto n = static_cast<double>(of_set.n);
    if (s == 0)
        return;
    sums_[*of_set.device] += (n - 1) * (r1 + 1 / n);
    weights_[*of_set.device] += (n - 1) * std::pow(1 - 2 / n, 2);
}

void NeighbourFormulas::finish()
{
    for (std::size_t device = 0; device < devices_.size(); ++device)
        write_device(device);
    for (auto& number : numbers_)
        write_number(number);
}

void NeighbourFormulas::write_device(std::size_t device)
{
    const auto& expected = dossier_.evaluation.devices[device];
    const double sum = sums_[device], weight = weights_[device], estimate = weight > 0 ? sum / weight : 0;
    if (!agrees(weight, expected.weight) || !agrees(estimate, expected.estimate))
        return;
    const auto row = row_of(device);
    const auto column_of = [&](std::uint16_t of) {
        return range_reference("means", {first_row, of}, {row_of(dossier_.evaluation.sets.size() - 1), of});
    };
    const auto n_column = column_of(column::set_n);
    // Sets of equal readings tell nothing.
    const auto total = [&](const std::string& what) {
        return fmt::format("SUMPRODUCT(({}={})*({}>0)*{})", column_of(column::set_device),
                           cell_name({row, column::device_number}), column_of(column::set_own), what);
    };
    const auto sum_cell = cell_name({row, column::device_sum}),
               weight_cell = cell_name({row, column::device_weight}),
               estimate_cell = cell_name({row, column::device_estimate});
    auto& formulas = devices_[device];
    formulas.sum = Term{total(fmt::format("({0}-1)*({1}+1/{0})", n_column, column_of(column::set_r1))), sum};
    formulas.weight = Term{total(fmt::format("({0}-1)*(1-2/{0})*(1-2/{0})", n_column)), weight};
    formulas.estimate = Term{fmt::format("IF({0}=0,0,{1}/{0})", weight_cell, sum_cell), estimate};
    formulas.r =
        Term{fmt::format("IF({0}>1.6449*SQRT({1}),MIN(0.95,{2}),0)", sum_cell, weight_cell, estimate_cell),
             sum > 1.6449 * std::sqrt(weight) ? std::min(0.95, estimate) : 0};
    formulas.largest = Term{fmt::format("NORMSINV(1-0.01/MAX(1,{}))", total("1")), largest(device).value};
}

Term NeighbourFormulas::r(std::size_t device) const
{
    return {reference(sheet, {row_of(device), column::device_r}), dossier_.evaluation.devices[device].r};
}

Term NeighbourFormulas::largest(std::size_t device) const
{
    return {reference(sheet, {row_of(device), column::device_largest}),
            uncertainty::t_quantile(1 - 0.01 / std::max(1.0, dossier_.evaluation.devices[device].sets),
                                    uncertainty::infinite)};
}

Term NeighbourFormulas::weight(std::size_t device) const
{
    return {reference(sheet, {row_of(device), column::device_weight}),
            dossier_.evaluation.devices[device].weight};
}

/// Sums over the matrix r^|i-j|: of its elements, of their squares, of the squares of its rows' sums.
void NeighbourFormulas::write_number(OfNumber& number) const
{
    const auto row = row_of(number_at_.at({number.device, number.n}));
    const auto n = static_cast<double>(number.n);
    const auto of_r = r(number.device);
    const auto n_cell = cell_name({row, column::number_n}),
               r_cell = cell_name({row_of(number.device), column::device_r}),
               effective = cell_name({row, column::number_effective}),
               trace = cell_name({row, column::number_trace}),
               trace_of_square = cell_name({row, column::number_trace_of_square});
    const double value = of_r.value, power = std::pow(value, n), squared = value * value;
    const double sum = (n * (1 - squared) - 2 * value * (1 - power)) / std::pow(1 - value, 2);
    number.effective_n = {
        fmt::format("{0}*{0}*POWER(1-{1},2)/({0}*(1-{1}*{1})-2*{1}*(1-POWER({1},{0})))", n_cell, r_cell),
        n * n / sum};
    if (number.n < 2)
        return;  // one reading has no scatter of its own
    number.trace = {fmt::format("{0}-{0}/{1}", n_cell, effective), n - sum / n};
    const double squares =
        (n * (1 - squared * squared) - 2 * squared * (1 - power * power)) / std::pow(1 - squared, 2);
    const double rows = (n * std::pow(1 + value, 2) - 4 * (1 + value) * value * (1 - power) / (1 - value) +
                         2 * squared * (1 - power * power) / (1 - squared) + 2 * n * value * power) /
                        std::pow(1 - value, 2);
    number.trace_of_square = {
        fmt::format("({0}*(1-POWER({1},4))-2*POWER({1},2)*(1-POWER({1},2*{0})))/POWER(1-{1}*{1},2)"
                    "-2/{0}*({0}*POWER(1+{1},2)-4*(1+{1})*{1}*(1-POWER({1},{0}))/(1-{1})"
                    "+2*POWER({1},2)*(1-POWER({1},2*{0}))/(1-{1}*{1})+2*{0}*POWER({1},{0}+1))/POWER(1-{1},2)"
                    "+POWER({0}/{2},2)",
                    n_cell, r_cell, effective),
        squares - 2 / n * rows + std::pow(sum / n, 2)};
    number.freedom = freedom(number.device, {n_cell + "-1", n - 1}, {trace, number.trace.value},
                             {trace_of_square, number.trace_of_square.value});
}

Term NeighbourFormulas::freedom(std::size_t device, const Term& readings_less_sets, const Term& trace,
                                const Term& trace_of_square) const
{
    const auto of_r = r(device), of_weight = weight(device);
    const double value =
        of_r.value == 0
            ? readings_less_sets.value
            : std::max(1.0, 1 / (trace_of_square.value / std::pow(trace.value, 2) +
                                 2 / (of_weight.value * std::pow(1 - of_r.value * of_r.value, 2))));
    return {fmt::format("IF({0}=0,{1},MAX(1,1/({2}/POWER({3},2)+2/({4}*POWER(1-{0}*{0},2)))))", of_r.text,
                        readings_less_sets.text, trace_of_square.text, trace.text, of_weight.text),
            value};
}

const NeighbourFormulas::OfNumber& NeighbourFormulas::number_of(std::size_t set) const
{
    const auto& of_set = dossier_.evaluation.sets[set];
    return numbers_[number_at_.at({*of_set.device, of_set.n})];
}

Term NeighbourFormulas::cell(std::size_t set, std::uint16_t column, double value) const
{
    const auto& of_set = dossier_.evaluation.sets[set];
    return {reference(sheet, {row_of(number_at_.at({*of_set.device, of_set.n})), column}), value};
}

Term NeighbourFormulas::effective_n(std::size_t set) const
{
    return cell(set, column::number_effective, number_of(set).effective_n.value);
}

Term NeighbourFormulas::trace(std::size_t set) const
{
    return cell(set, column::number_trace, number_of(set).trace.value);
}

Term NeighbourFormulas::trace_of_square(std::size_t set) const
{
    return cell(set, column::number_trace_of_square, number_of(set).trace_of_square.value);
}

Term NeighbourFormulas::freedom(std::size_t set) const
{
    return cell(set, column::number_freedom, number_of(set).freedom.value);
}

}  // namespace luxdossier::workbook
