#include "model/dossier.hpp"
#include "model/verdict.hpp"

#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <set>

#include <fmt/chrono.h>
#include <fmt/format.h>

namespace luxdossier::model {
namespace {

template <typename Item>
const Item* by_id(const std::vector<Item>& items, std::string_view id)
{
    const auto found = std::ranges::find(items, id, &Item::id);
    return found == items.end() ? nullptr : &*found;
}

template <typename Column>
const Column* by_meaning(const std::vector<Column>& columns, std::string_view meaning)
{
    const auto found = std::ranges::find(columns, meaning, &Column::meaning);
    return found == columns.end() ? nullptr : &*found;
}

}  // namespace

std::string condition_text(const ConditionValue& value)
{
    if (const auto* text = std::get_if<std::string>(&value))
        return *text;
    const auto& quantity = std::get<ConditionQuantity>(value);
    return fmt::format("{}{}", quantity.value, quantity.unit == "1" ? "" : quantity.unit);
}

Date TimePoint::date() const
{
    return Date{std::chrono::days{static_cast<long>(std::floor(seconds / 86400.0))}};
}

std::string date_text(Date date)
{
    const std::chrono::year_month_day day{date};
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(day.year()), static_cast<unsigned>(day.month()),
                       static_cast<unsigned>(day.day()));
}

const NumberColumn* Table::number(std::string_view meaning) const
{
    return by_meaning(numbers, meaning);
}

const TextColumn* Table::text(std::string_view meaning) const
{
    return by_meaning(texts, meaning);
}

std::string_view source_kind_text(SourceKind kind)
{
    switch (kind) {
    case SourceKind::led:
        return "led";
    case SourceKind::incandescent:
        return "incandescent";
    case SourceKind::fluorescent:
        return "fluorescent";
    case SourceKind::daylight:
        return "daylight";
    case SourceKind::near_infrared:
        return "near-infrared";
    case SourceKind::other:
        return "other";
    }
    return {};
}

std::string_view run_kind_text(RunKind kind)
{
    switch (kind) {
    case RunKind::dark:
        return "dark";
    case RunKind::comparison:
        return "comparison";
    case RunKind::position:
        return "position";
    case RunKind::field_map:
        return "field_map";
    case RunKind::warm_up:
        return "warm_up";
    case RunKind::angular:
        return "angular";
    case RunKind::near_infrared:
        return "near_infrared";
    case RunKind::waveform:
        return "waveform";
    }
    return {};
}

const Sample* Qualification::sample(std::string_view id) const
{
    return by_id(samples, id);
}

const Configuration* Qualification::configuration(std::string_view id) const
{
    return by_id(configurations, id);
}

const Meter* Qualification::meter(std::string_view id) const
{
    return by_id(meters, id);
}

const AcceptedRemark* Qualification::acceptance(std::string_view remark, std::string_view run) const
{
    const auto found = std::ranges::find_if(accepted_remarks, [&](const AcceptedRemark& accepted) {
        return accepted.remark == remark && (accepted.run.empty() || accepted.run == run);
    });
    return found == accepted_remarks.end() ? nullptr : &*found;
}

const Source* Qualification::source(std::string_view id) const
{
    return by_id(sources, id);
}

const Equipment* Qualification::equipment_of(std::string_view id) const
{
    return by_id(equipment, id);
}

bool Run::holds(std::string_view column, std::uint32_t row) const
{
    const auto* numbers = table ? table->number(column) : nullptr;
    return numbers != nullptr && !std::isnan(numbers->values.at(row));
}

bool Run::is_side_by_side() const
{
    if (method)
        return *method == Method::side_by_side;
    return std::ranges::any_of(
        rows, [this](std::uint32_t row) { return holds("sensor", row) && holds("meter", row); });
}

bool Run::names_equipment(std::string_view equipment) const
{
    return thermometer == equipment || irradiance_meter == equipment;
}

std::vector<const Run*> Qualification::stated_runs() const
{
    std::vector<const Run*> stated;
    std::set<std::string_view> ids;
    for (const auto& run : runs)
        if (ids.insert(run.id).second)
            stated.push_back(&run);
    return stated;
}

bool Qualification::is_draft() const
{
    return document.number.empty() || document.title.empty() || !document.issued;
}

std::string_view rule_text(RuleKind kind)
{
    switch (kind) {
    case RuleKind::simple_acceptance:
        return "simple acceptance";
    case RuleKind::guarded_acceptance:
        return "guarded acceptance";
    case RuleKind::four_outcome:
        return "four outcomes";
    }
    return {};
}

double largest_specific_risk(const model::DecisionRule& rule, double coverage_probability,
                             double degrees_of_freedom)
{
    if (rule.kind == model::RuleKind::simple_acceptance)
        return 0.5;
    const auto w_over_u =
        rule.guard_band_multiple * uncertainty::coverage_factor(coverage_probability, degrees_of_freedom);
    return uncertainty::t_probability(-w_over_u, degrees_of_freedom);
}

std::string_view severity_text(RemarkSeverity severity)
{
    switch (severity) {
    case RemarkSeverity::note:
        return "note";
    case RemarkSeverity::concern:
        return "concern";
    case RemarkSeverity::blocks:
        return "blocks";
    }
    return {};
}

std::string_view outcome_text(Outcome outcome)
{
    switch (outcome) {
    case Outcome::pass:
        return "pass";
    case Outcome::conditional_pass:
        return "conditional pass";
    case Outcome::not_decided:
        return "not decided";
    case Outcome::conditional_fail:
        return "conditional fail";
    case Outcome::fail:
        return "fail";
    }
    return {};
}

std::string_view outcome_key(Outcome outcome)
{
    switch (outcome) {
    case Outcome::pass:
        return "pass";
    case Outcome::conditional_pass:
        return "conditional_pass";
    case Outcome::not_decided:
        return "not_decided";
    case Outcome::conditional_fail:
        return "conditional_fail";
    case Outcome::fail:
        return "fail";
    }
    return {};
}

std::string reason_text(const Verdict& verdict)
{
    const auto* const between = verdict.reason.empty() || verdict.by_trials.empty() ? "" : "; ";
    return verdict.reason + between + verdict.by_trials;
}

std::string statement_text(const Statement& statement)
{
    if (statement.subject.empty())
        return statement.text;
    std::string text = statement.subject + ": " + statement.text + ".";
    text.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(text.front())));
    return text;
}

std::string result_id(std::string_view metric, std::string_view sample, const Conditions& conditions)
{
    auto sorted = conditions;
    if (!sample.empty())
        sorted.emplace("sample", std::string(sample));
    std::string id(metric);
    for (const auto& [name, value] : sorted)
        id += fmt::format("/{}={}", name, condition_text(value));
    return id;
}

std::optional<Result::Reach> Result::reach() const
{
    if (!combined)
        return std::nullopt;
    if (is_judged_by_trials)
        return Reach{*value - monte_carlo->interval->lower, monte_carlo->interval->upper - *value};
    return Reach{combined->expanded_uncertainty, combined->expanded_uncertainty};
}

std::optional<double> Result::expanded_uncertainty() const
{
    const auto found = reach();
    return found ? std::optional(found->half_length()) : std::nullopt;
}

uncertainty::Budget Evaluation::budget(const Result& result) const
{
    return result.combined ? uncertainty::propagate(graph, result.node.value(), *result.combined)
                           : uncertainty::propagate(graph, result.node.value(), coverage_probability);
}

}  // namespace luxdossier::model
