#include "model/selection.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::model {
namespace {

/// Values that differ by rounding only stand on the end of a range.
bool is_at(double value, double end)
{
    return std::abs(value - end) <= 1e-9 * std::max(std::abs(value), std::abs(end));
}

bool within(double value, const std::optional<double>& from, const std::optional<double>& to)
{
    return (!from || value >= *from || is_at(value, *from)) && (!to || value <= *to || is_at(value, *to));
}

}  // namespace

std::optional<double> condition_number(const Conditions& conditions, const std::string& name)
{
    const auto found = conditions.find(name);
    const auto* quantity =
        found == conditions.end() ? nullptr : std::get_if<ConditionQuantity>(&found->second);
    return quantity == nullptr ? std::nullopt : std::optional(quantity->value);
}

std::string condition_text(const Conditions& conditions, const std::string& name)
{
    const auto found = conditions.find(name);
    return found == conditions.end() ? std::string{} : condition_text(found->second);
}

bool selects(const Selector& selector, const Result& result)
{
    if (selector.from || selector.to) {
        const auto value = condition_number(result.conditions, selector.name);
        return value && within(*value, selector.from, selector.to);
    }
    const auto text =
        selector.name == "sample" ? result.sample : condition_text(result.conditions, selector.name);
    return std::ranges::find(selector.ids, text) != selector.ids.end();
}

bool selects(const Limit& limit, const Result& result)
{
    if (limit.not_assessed || limit.metric != result.metric)
        return false;
    if (!std::ranges::all_of(limit.where,
                             [&](const Selector& selector) { return selects(selector, result); }))
        return false;
    if (!limit.mask || limit.mask->angle_degree.empty())
        return true;
    const auto angle = condition_number(result.conditions, "angle");
    const auto [lowest, highest] = std::ranges::minmax(limit.mask->angle_degree);
    return angle && within(*angle, lowest, highest);
}

}  // namespace luxdossier::model
