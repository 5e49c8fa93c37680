#include "metrics/bench.hpp"

#include <algorithm>
#include <cmath>
#include <thread>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

template <typename Item>
void add_missing(std::vector<Item>& to, const std::vector<Item>& from)
{
    for (const auto& item : from)
        if (std::ranges::find(to, item) == to.end())
            to.push_back(item);
}

/// Results that would share a key also carry the id of their run.
void tell_runs_apart(std::vector<model::Result>& results, const model::Qualification& qualification)
{
    std::map<std::string, std::vector<std::size_t>> by_id;
    for (std::size_t i = 0; i < results.size(); ++i)
        by_id[results[i].id].push_back(i);
    for (const auto& [id, indices] : by_id) {
        if (indices.size() < 2)
            continue;
        for (const auto index : indices) {
            auto& result = results[index];
            if (result.runs.empty())
                continue;
            result.conditions["run"] = qualification.runs.at(result.runs.front()).id;
            result.id = model::result_id(result.metric, result.sample, result.conditions);
        }
    }
}

/// Value and combined uncertainty of one result; what no number can hold becomes not decided.
void propagate_result(model::Result& result, const uncertainty::Graph& graph, double coverage_probability)
{
    if (!result.node)
        return;
    const double value = graph.value(*result.node);
    if (!std::isfinite(value)) {
        result.node.reset();
        result.value.reset();
        if (result.undecided.empty())
            result.undecided = "the readings give no finite value (division by zero)";
        return;
    }
    result.value = value;
    const auto budget = uncertainty::propagate(graph, *result.node, coverage_probability);
    if (std::isfinite(budget.combined.standard_uncertainty)) {
        result.combined = budget.combined;
        return;
    }
    result.node.reset();
    if (result.undecided.empty())
        result.undecided = "the model has no finite sensitivity at these readings";
}

/// Results whose sensitivities all vanish, told in one remark (JCGM 100:2008, 5.1.2, note).
void remark_second_order(model::Evaluation& evaluation)
{
    model::Remark remark;
    remark.id = "second-order";
    remark.severity = model::RemarkSeverity::concern;
    constexpr std::size_t named_at_most = 3;
    std::string names;
    for (std::size_t i = 0; i < evaluation.results.size(); ++i) {
        const auto& result = evaluation.results[i];
        if (!result.combined || !result.combined->is_second_order)
            continue;
        remark.results.push_back(i);
        if (remark.results.size() <= named_at_most)
            names += (names.empty() ? "" : ", ") + result.id;
    }
    if (remark.results.empty())
        return;
    remark.seen = "all sensitivities vanish at the estimates: " + names;
    if (remark.results.size() > named_at_most)
        remark.seen += fmt::format(" and {} more", remark.results.size() - named_at_most);
    remark.effect = "the standard uncertainty is that of the second-order term, its degrees of freedom are "
                    "taken as infinite";
    remark.advice = "rely on the interval of the Monte Carlo method";
    evaluation.remarks.push_back(std::move(remark));
}

}  // namespace

void Trail::add(const Trail& other)
{
    add_missing(runs, other.runs);
    add_missing(sets, other.sets);
    add_missing(remarks, other.remarks);
    add_missing(undecided, other.undecided);
    uncertainty_unknown = uncertainty_unknown || other.uncertainty_unknown;
}

Bench::Bench(const model::Qualification& qualification) : qualification_(qualification) {}

Expression Bench::rectangular(std::string identity, std::string quantity, std::string symbol,
                              std::string unit, double estimate, double half_width, std::string note,
                              bool from_readings)
{
    uncertainty::InputQuantity input;
    input.from_readings = from_readings;
    input.identity = std::move(identity);
    input.quantity = std::move(quantity);
    input.symbol = std::move(symbol);
    input.unit = std::move(unit);
    input.estimate = estimate;
    input.standard_uncertainty = std::abs(half_width) / std::sqrt(3.0);
    input.distribution = uncertainty::Distribution::rectangular;
    input.note = std::move(note);
    return builder_.input(input);
}

Expression Bench::stated(std::string identity, std::string quantity, std::string symbol,
                         const model::Quantity& value)
{
    uncertainty::InputQuantity input;
    input.identity = std::move(identity);
    input.quantity = std::move(quantity);
    input.symbol = std::move(symbol);
    input.unit = value.unit;
    input.estimate = value.value;
    input.standard_uncertainty = value.standard_uncertainty.value_or(0.0);
    input.distribution = value.distribution;
    input.degrees_of_freedom = value.degrees_of_freedom;
    input.note = value.note.empty() ? "as stated in the header" : value.note;
    return builder_.input(input);
}

std::vector<std::size_t> Bench::runs_of(model::RunKind kind) const
{
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < qualification_.runs.size(); ++i)
        if (qualification_.runs[i].kind == kind)
            found.push_back(i);
    return found;
}

std::optional<std::size_t> Bench::find_run(std::string_view id) const
{
    const auto& runs = qualification_.runs;
    const auto found = std::ranges::find(runs, id, &model::Run::id);
    if (found == runs.end())
        return std::nullopt;
    return static_cast<std::size_t>(found - runs.begin());
}

std::string Bench::run_identity(std::size_t run) const
{
    const auto& subject = this->run(run);
    auto identity = "run:" + subject.id;
    if (std::ranges::count(qualification_.runs, subject.id, &model::Run::id) < 2)
        return identity;
    auto parts = subject.conditions;
    if (!subject.sample.empty())
        parts["sample"] = subject.sample;
    if (!subject.configuration.empty())
        parts["configuration"] = subject.configuration;
    if (!subject.source.empty())
        parts["source"] = subject.source;
    for (const auto& [name, value] : parts)
        identity += fmt::format("/{}={}", name, model::condition_text(value));
    return identity;
}

model::Conditions Bench::conditions_of(std::size_t run) const
{
    const auto& subject = this->run(run);
    auto conditions = subject.conditions;
    conditions.erase("level");
    if (!subject.configuration.empty())
        conditions["configuration"] = subject.configuration;
    if (!subject.source.empty())
        conditions["source"] = subject.source;
    return conditions;
}

std::vector<std::uint32_t> Bench::rows_with(std::size_t run, std::string_view column) const
{
    const auto& subject = this->run(run);
    std::vector<std::uint32_t> rows;
    const auto* numbers = subject.table ? subject.table->number(column) : nullptr;
    if (numbers == nullptr)
        return rows;
    for (const auto row : subject.rows)
        if (!std::isnan(numbers->values.at(row)))
            rows.push_back(row);
    return rows;
}

const Traced* Bench::recall(std::string_view key) const
{
    const auto found = shared_.find(key);
    return found == shared_.end() ? nullptr : &found->second;
}

const Traced& Bench::keep(const std::string& key, Traced quantity)
{
    return shared_.insert_or_assign(key, std::move(quantity)).first->second;
}

std::shared_ptr<const std::vector<LevelReading>> Bench::recall_levels(std::size_t run) const
{
    const auto found = levels_.find(run);
    return found == levels_.end() ? nullptr : found->second;
}

void Bench::keep_levels(std::size_t run, std::shared_ptr<const std::vector<LevelReading>> levels)
{
    levels_[run] = std::move(levels);
}

std::size_t Bench::append(model::Result result, const Trail& trail)
{
    result.id = model::result_id(result.metric, result.sample, result.conditions);
    result.runs = trail.runs;
    result.sets = trail.sets;
    if (result.undecided.empty() && !trail.undecided.empty())
        result.undecided = trail.undecided.front();
    for (const auto remark : trail.remarks)
        remarks_.at(remark).results.push_back(results_.size());
    results_.push_back(std::move(result));
    return results_.size() - 1;
}

std::size_t Bench::add(model::Result result, const Traced& quantity)
{
    const double value = quantity.value.value();
    if (std::isfinite(value))
        result.value = value;
    else if (quantity.trail.decided())
        result.undecided = "the readings give no finite value (division by zero)";
    if (!quantity.trail.uncertainty_unknown && std::isfinite(value))
        result.node = quantity.value.node();
    return append(std::move(result), quantity.trail);
}

std::size_t Bench::add_value(model::Result result, double value, const Trail& trail)
{
    result.value = value;
    return append(std::move(result), trail);
}

std::size_t Bench::add_undecided(model::Result result, std::string reason, const Trail& trail)
{
    result.undecided = std::move(reason);
    return append(std::move(result), trail);
}

std::size_t Bench::remark(model::Remark remark)
{
    const auto same = std::ranges::find_if(remarks_, [&](const model::Remark& other) {
        return other.id == remark.id && other.run == remark.run && other.seen == remark.seen;
    });
    if (same != remarks_.end())
        return static_cast<std::size_t>(same - remarks_.begin());
    remarks_.push_back(std::move(remark));
    return remarks_.size() - 1;
}

const std::vector<double>& Bench::collect(const std::string& key, double figure)
{
    auto& figures = figures_[key];
    figures.push_back(figure);
    return figures;
}

std::size_t Bench::add_set(model::ReadingSet set)
{
    sets_.push_back(std::move(set));
    return sets_.size() - 1;
}

void Bench::state(std::string family, std::string text, std::string subject)
{
    statements_.push_back({std::move(family), std::move(text), std::move(subject)});
}

void Bench::leave_settled_log(const std::string& source, SettledLog log)
{
    settled_logs_[source] = std::move(log);
}

const SettledLog* Bench::settled_log(std::string_view source) const
{
    const auto found = settled_logs_.find(source);
    return found == settled_logs_.end() ? nullptr : &found->second;
}

model::Evaluation Bench::finish(unsigned threads) &&
{
    model::Evaluation evaluation;
    tell_runs_apart(results_, qualification_);
    evaluation.graph = std::move(builder_).freeze();
    evaluation.results = std::move(results_);
    evaluation.sets = std::move(sets_);
    if (devices_)
        evaluation.devices = std::move(devices_->all);
    evaluation.remarks = std::move(remarks_);
    evaluation.statements = std::move(statements_);
    evaluation.coverage_probability = qualification_.evaluation.coverage_probability;

    // Every result is propagated by itself, so that the bits do not depend on who does it.
    const auto work = [&evaluation](std::size_t first, std::size_t step) {
        for (std::size_t i = first; i < evaluation.results.size(); i += step)
            propagate_result(evaluation.results[i], evaluation.graph, evaluation.coverage_probability);
    };
    std::vector<std::jthread> helpers;
    for (unsigned i = 1; i < std::max(1U, threads); ++i)
        helpers.emplace_back(work, i, threads);
    work(0, std::max(1U, threads));
    helpers.clear();
    remark_second_order(evaluation);
    return evaluation;
}

}  // namespace luxdossier::metrics
