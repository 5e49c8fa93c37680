#include "practice/bench.hpp"

#include "model/selection.hpp"
#include "statistics/summary.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

bool is_same_level(double a, double b)
{
    return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b));
}

}  // namespace

Bench::Bench(const model::Qualification& qualification, const model::Limits* limits,
             const model::Evaluation& evaluation)
    : qualification_(qualification), limits_(limits), evaluation_(evaluation),
      results_of_run_(qualification.runs.size()), levels_(qualification.runs.size())
{
    for (std::size_t index = 0; index < evaluation.results.size(); ++index) {
        const auto& result = evaluation.results[index];
        for (const auto run : result.runs)
            results_of_run_.at(run).push_back(index);
        if (result.runs.empty() || !result.illuminance_lx ||
            qualification.runs.at(result.runs.front()).kind != model::RunKind::comparison)
            continue;
        const auto run = result.runs.front();
        const auto nominal = model::condition_number(result.conditions, "level");
        auto& levels = levels_[run];
        auto found = std::ranges::find(levels, nominal, &Level::nominal_lx);
        if (found == levels.end())
            found = levels.insert(levels.end(), {run, nominal, *result.illuminance_lx, {}, std::nullopt});
        found->results.push_back(index);
        if (const auto half = half_tolerance(result))
            found->half_tolerance_lx = std::min(found->half_tolerance_lx.value_or(*half), *half);
    }
    for (auto& levels : levels_)
        std::ranges::sort(levels, {}, &Level::illuminance_lx);
}

// T of one result in lx: limits on the reading error are relative to E, those on the difference are in lx.
std::optional<double> Bench::half_tolerance(const model::Result& result) const
{
    std::optional<double> strictest;
    if (limits_ == nullptr || (result.metric != "reading_error" && result.metric != "reading_difference"))
        return strictest;
    const double illuminance_lx = std::abs(*result.illuminance_lx);
    for (const auto& limit : limits_->limits) {
        if (!model::selects(limit, result))
            continue;
        std::optional<double> half;
        if (limit.plus_minus) {
            const double relative = limit.plus_minus->fraction_of_level.value_or(0.0) * illuminance_lx;
            const double fixed = limit.plus_minus->fixed_lx.value_or(0.0);
            half = limit.plus_minus->greater ? std::max(relative, fixed) : relative + fixed;
        } else if (limit.lower && limit.upper) {
            const double in_record_unit = (*limit.upper - *limit.lower) / 2.0 * std::abs(limit.unit_scale);
            half =
                result.metric == "reading_error" ? in_record_unit / 100.0 * illuminance_lx : in_record_unit;
        }
        if (half)
            strictest = std::min(strictest.value_or(*half), *half);
    }
    return strictest;
}

std::vector<std::size_t> Bench::runs_of(model::RunKind kind) const
{
    std::vector<std::size_t> found;
    for (std::size_t index = 0; index < qualification_.runs.size(); ++index)
        if (qualification_.runs[index].kind == kind)
            found.push_back(index);
    return found;
}

std::vector<std::size_t> Bench::results_of(std::size_t run, std::optional<double> level_lx) const
{
    if (!level_lx)
        return results_of_run_.at(run);
    std::vector<std::size_t> found;
    for (const auto index : results_of_run_.at(run)) {
        const auto level = model::condition_number(evaluation_.results[index].conditions, "level");
        if (!level || is_same_level(*level, *level_lx))
            found.push_back(index);
    }
    return found;
}

std::vector<std::size_t> Bench::results_of(std::size_t run,
                                           std::initializer_list<std::string_view> metrics) const
{
    std::vector<std::size_t> found;
    for (const auto index : results_of_run_.at(run))
        if (std::ranges::find(metrics, evaluation_.results[index].metric) != metrics.end())
            found.push_back(index);
    return found;
}

const std::vector<Level>& Bench::levels_of(std::size_t run) const
{
    return levels_.at(run);
}

double Bench::cell(std::size_t run_index, std::string_view column, std::uint32_t row) const
{
    const auto& table = run(run_index).table;
    const auto* numbers = table ? table->number(column) : nullptr;
    return numbers == nullptr ? std::nan("") : numbers->values.at(row);
}

std::vector<double> Bench::readings(std::size_t run_index, std::string_view column) const
{
    std::vector<double> values;
    for (const auto row : run(run_index).rows)
        if (const double value = cell(run_index, column, row); !std::isnan(value))
            values.push_back(value);
    return values;
}

std::optional<double> Bench::distance_m(std::size_t run_index) const
{
    if (const auto stated = model::condition_number(run(run_index).conditions, "distance"))
        return stated;
    return qualification_.geometry.distance ? std::optional(qualification_.geometry.distance->value)
                                            : std::nullopt;
}

std::string Bench::words(std::size_t run_index) const
{
    const auto& subject = run(run_index);
    std::string text;
    for (const auto& part : {subject.sample, subject.configuration, subject.source})
        if (!part.empty())
            text += (text.empty() ? "" : " ") + part;
    return text;
}

void Bench::raise(model::Remark remark)
{
    std::ranges::sort(remark.results);
    const auto repeated = std::ranges::unique(remark.results);
    remark.results.erase(repeated.begin(), repeated.end());
    remarks_.push_back(std::move(remark));
}

std::optional<double> resolution_of(const Bench& bench, std::size_t run, std::string_view column,
                                    double indication_lx)
{
    const auto& qualification = bench.qualification();
    if (column == "sensor")
        return qualification.product.resolution ? std::optional(qualification.product.resolution->value)
                                                : std::nullopt;
    const auto* meter = column == "meter" ? qualification.meter(bench.run(run).meter) : nullptr;
    if (meter == nullptr)
        return std::nullopt;
    for (const auto& range : meter->ranges)
        if (range.up_to_lx >= indication_lx)
            return range.resolution_lx;
    return meter->ranges.empty() ? meter->resolution_lx : std::optional(meter->ranges.back().resolution_lx);
}

std::optional<Mean> mean_of(const Bench& bench, std::size_t run, std::string_view column)
{
    const auto values = bench.readings(run, column);
    if (values.empty())
        return std::nullopt;
    const auto summary = statistics::summarise(values);
    Mean mean{summary.n, summary.mean, 0.0};
    const double scatter =
        summary.n > 1 ? summary.standard_deviation / std::sqrt(static_cast<double>(summary.n)) : 0.0;
    const auto q = resolution_of(bench, run, column, summary.mean);
    const double step = q ? *q / std::sqrt(12.0) : 0.0;
    mean.standard_uncertainty = std::hypot(scatter, step);
    return mean;
}

std::optional<model::Date> date_of(const Bench& bench, std::size_t run)
{
    const auto& document = bench.qualification().document;
    if (const auto& started = bench.run(run).started)
        return started->date();
    for (const auto& date : {document.tested_to, document.tested_from, document.issued})
        if (date)
            return date;
    return std::nullopt;
}

std::string condition_of(const model::Run& run, const std::string& name)
{
    return model::condition_text(run.conditions, name);
}

void add_results(std::vector<std::size_t>& to, const std::vector<std::size_t>& from)
{
    to.insert(to.end(), from.begin(), from.end());
}

}  // namespace luxdossier::practice
