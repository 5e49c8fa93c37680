#include "conformity/selection.hpp"

#include "conformity/conformity.hpp"
#include "model/selection.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <variant>

#include <fmt/format.h>

namespace luxdossier::conformity {
namespace {

const model::ConditionValue* condition(const model::Result& result, const std::string& name)
{
    const auto found = result.conditions.find(name);
    return found == result.conditions.end() ? nullptr : &found->second;
}

std::optional<double> quantity(const model::Result& result, const std::string& name)
{
    const auto* value = condition(result, name);
    const auto* number = value == nullptr ? nullptr : std::get_if<model::ConditionQuantity>(value);
    return number == nullptr ? std::nullopt : std::optional(number->value);
}

std::string text(const model::Result& result, const std::string& name)
{
    if (name == "sample")
        return result.sample;
    const auto* value = condition(result, name);
    return value == nullptr ? std::string{} : model::condition_text(*value);
}

/// One bound of a mask at an angle, linear in between. Empty outside the mask and where a needed cell is
/// empty.
std::optional<double> mask_bound(const std::vector<double>& angles, const std::vector<double>& bounds,
                                 double angle)
{
    for (std::size_t i = 0; i < angles.size(); ++i)
        if (is_on(angle, angles[i]))
            return std::isnan(bounds[i]) ? std::nullopt : std::optional(bounds[i]);
    const auto next = std::ranges::upper_bound(angles, angle);
    if (next == angles.begin() || next == angles.end())
        return std::nullopt;
    const auto i = static_cast<std::size_t>(next - angles.begin());
    const auto weight = (angle - angles[i - 1]) / (angles[i] - angles[i - 1]);
    const auto bound = bounds[i - 1] * (1 - weight) + bounds[i] * weight;
    return std::isnan(bound) ? std::nullopt : std::optional(bound);
}

std::optional<ToleranceOfResult> plus_minus_tolerance(const model::PlusMinus& plus_minus,
                                                      const model::Result& result)
{
    if (plus_minus.fraction_of_level && !result.illuminance_lx)
        return ToleranceOfResult{{}, "no illuminance was evaluated to which the limit could refer"};
    const auto relative =
        plus_minus.fraction_of_level.value_or(0) * std::abs(result.illuminance_lx.value_or(0));
    const auto fixed = plus_minus.fixed_lx.value_or(0);
    const auto half_width = plus_minus.greater ? std::max(relative, fixed) : relative + fixed;
    return ToleranceOfResult{{-half_width, half_width}, {}};
}

bool is_list_member(const std::vector<std::string>& list, const std::string& id)
{
    return std::ranges::find(list, id) != list.end();
}

/// Ids of one list that are expected; empty where the metric does not carry the condition or none is
/// declared.
template <typename Item>
std::vector<std::optional<std::string>>
expected_ids(const std::optional<std::vector<std::string>>& stated, const std::vector<Item>& declared,
             const model::Limit& limit, const std::string& name, const std::string& left_out)
{
    std::vector<std::optional<std::string>> ids;
    if (stated) {
        for (const auto& id : *stated)
            if (id != left_out)
                ids.emplace_back(id);
        return ids;
    }
    for (const auto& item : declared)
        if (item.id != left_out && admits(limit, name, item.id))
            ids.emplace_back(item.id);
    return ids;
}

bool carries(const model::MetricEntry& metric, const std::string& name)
{
    return is_list_member(metric.conditions, name);
}

/// A source difference has two sources: one that is named as the other has its result too.
bool has_source(const model::Result& result, const std::string& id)
{
    return text(result, "source") == id ||
           (result.metric == "source_difference" && text(result, "other_source") == id);
}

/// A correction that names no sample, or no source, serves all of them.
bool serves_all(const model::Result& result, const std::string& name)
{
    return condition(result, "correction") != nullptr && text(result, name).empty();
}

bool answers(const model::Result& result, const Expected& expected)
{
    if (expected.sample && result.sample != *expected.sample && !serves_all(result, "sample"))
        return false;
    if (expected.configuration && text(result, "configuration") != *expected.configuration)
        return false;
    if (expected.source && !has_source(result, *expected.source) && !serves_all(result, "source"))
        return false;
    const auto level = quantity(result, "level");
    return !expected.level_lx || (level && is_on(*level, *expected.level_lx));
}

}  // namespace

std::optional<ToleranceOfResult> tolerance_of(const model::Limit& limit, const model::Result& result)
{
    if (limit.plus_minus)
        return plus_minus_tolerance(*limit.plus_minus, result);
    ToleranceOfResult found{{limit.lower, limit.upper}, {}};
    if (limit.mask) {
        const auto angle = quantity(result, "angle");
        if (!angle)
            return std::nullopt;
        found.tolerance.lower = mask_bound(limit.mask->angle_degree, limit.mask->lower, *angle);
        found.tolerance.upper = mask_bound(limit.mask->angle_degree, limit.mask->upper, *angle);
    }
    const auto crossing = text(result, "crossing");
    if (crossing == "innermost")
        found.tolerance.upper.reset();
    if (crossing == "outermost")
        found.tolerance.lower.reset();
    if (!found.tolerance.lower && !found.tolerance.upper)
        return std::nullopt;
    return found;
}

bool admits(const model::Limit& limit, const std::string& condition, const std::string& id)
{
    return std::ranges::all_of(limit.where, [&](const model::Selector& selector) {
        return selector.name != condition || is_list_member(selector.ids, id);
    });
}

std::vector<std::size_t> selected_results(const model::Limit& limit, const model::Evaluation& evaluation)
{
    std::vector<std::size_t> selected;
    if (limit.not_assessed)
        return selected;
    for (std::size_t i = 0; i < evaluation.results.size(); ++i) {
        const auto& result = evaluation.results[i];
        const auto admitted = [&result](const model::Selector& selector) {
            return model::selects(selector, result);
        };
        if (result.metric == limit.metric && std::ranges::all_of(limit.where, admitted) &&
            tolerance_of(limit, result))
            selected.push_back(i);
    }
    return selected;
}

std::string expected_text(const Expected& expected)
{
    std::string joined;
    const auto add = [&joined](const std::string& part) { joined += (joined.empty() ? "" : ", ") + part; };
    if (expected.sample)
        add("sample " + *expected.sample);
    if (expected.configuration)
        add("configuration " + *expected.configuration);
    if (expected.source)
        add("source " + *expected.source);
    if (expected.level_lx)
        add(fmt::format("level {} lx", *expected.level_lx));
    return joined;
}

std::vector<Expected> missing_combinations(const model::Limit& limit,
                                           const model::Qualification& qualification,
                                           const model::MetricEntry& metric,
                                           const std::vector<const model::Result*>& selected)
{
    using Ids = std::vector<std::optional<std::string>>;
    const auto& expects = limit.expects;
    const auto without_configuration =
        limit.metric == "window_response_ratio" ? qualification.reference_configuration : std::string{};
    const auto without_source =
        limit.metric == "source_variation" ? qualification.reference_source : std::string{};
    const auto samples =
        metric.has_sample ? expected_ids(expects.samples, qualification.samples, limit, "sample", {}) : Ids{};
    const auto configurations = carries(metric, "configuration")
                                    ? expected_ids(expects.configurations, qualification.configurations,
                                                   limit, "configuration", without_configuration)
                                    : Ids{};
    const auto sources = carries(metric, "source") ? expected_ids(expects.sources, qualification.sources,
                                                                  limit, "source", without_source)
                                                   : Ids{};

    const auto or_any = [](const Ids& ids) { return ids.empty() ? Ids{std::nullopt} : ids; };
    std::vector<Expected> missing;
    const auto is_there = [&selected](const Expected& one) {
        return std::ranges::any_of(selected, [&one](const auto* result) { return answers(*result, one); });
    };
    for (const auto& sample : or_any(samples))
        for (const auto& configuration : or_any(configurations))
            for (const auto& source : or_any(sources)) {
                const Expected combination{sample, configuration, source, std::nullopt};
                if (!is_there(combination)) {
                    missing.push_back(combination);
                    continue;
                }
                for (const auto level_lx : expects.levels_lx.value_or(std::vector<double>{})) {
                    const Expected at_level{sample, configuration, source, level_lx};
                    if (!is_there(at_level))
                        missing.push_back(at_level);
                }
            }
    return missing;
}

}  // namespace luxdossier::conformity
