#include "report/words.hpp"

#include "report/numbers.hpp"
#include "report/symbols.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

using Pair = std::pair<std::string_view, std::string_view>;

// Conditions in the order in which a reader wants them; others follow in alphabetical order.
constexpr std::array<std::string_view, 6> reading_order{"configuration", "source", "other_source",
                                                        "level",         "plane",  "angle"};

std::string spaced(std::string_view id)
{
    std::string text(id);
    std::ranges::replace(text, '_', ' ');
    return text;
}

// Temperatures are read in degree Celsius, wavelengths in nanometres.
model::ConditionQuantity as_read(std::string_view name, const model::ConditionQuantity& quantity)
{
    if (name == "wavelength" && quantity.unit == "m")
        return {rounded_to_digits(quantity.value * 1e9, 9), "nm"};
    if (quantity.unit != "K")
        return quantity;
    return {rounded_to_digits(quantity.value - 273.15, 9), "degC"};
}

std::string quantity_phrase(std::string_view name, const model::ConditionQuantity& written)
{
    const auto quantity = as_read(name, written);
    return with_unit(stated_text(quantity.value), quantity.unit);
}

std::string bound_text(double value, std::string_view unit)
{
    return with_unit(stated_text(value), unit);
}

// Unit in which the bounds of a selector are kept: that of the condition in records.
std::string_view selector_unit(std::string_view name)
{
    static constexpr std::array<Pair, 8> units{{{"level", "lx"},
                                                {"plane", "degree"},
                                                {"angle", "degree"},
                                                {"temperature", "K"},
                                                {"meter_temperature", "K"},
                                                {"wavelength", "m"},
                                                {"distance", "m"},
                                                {"integration_time", "s"}}};
    const auto* const known = std::ranges::find(units, name, &Pair::first);
    return known == units.end() ? std::string_view() : known->second;
}

std::string selector_text(const model::Selector& selector)
{
    if (!selector.ids.empty()) {
        const std::string ids = joined(selector.ids);
        if (selector.name == "relative_to")
            return "% of " + ids;
        if (selector.name == "line" || selector.name == "side")
            return fmt::format("{} {}", ids, selector.name);
        return ids;
    }
    const std::string prefix = selector.name == "level" ? "" : spaced(selector.name) + " ";
    const auto bound = [&](double value) {
        return quantity_phrase(selector.name, {value, std::string(selector_unit(selector.name))});
    };
    if (selector.from && selector.to && *selector.from == *selector.to)
        return prefix + bound(*selector.from);
    if (selector.from && selector.to)
        return fmt::format("{}{} to {}", prefix, bound(*selector.from), bound(*selector.to));
    if (selector.from)
        return fmt::format("{}from {}", prefix, bound(*selector.from));
    return selector.to ? fmt::format("{}up to {}", prefix, bound(*selector.to)) : spaced(selector.name);
}

std::string plus_minus_text(const model::PlusMinus& bounds)
{
    const std::string fraction =
        bounds.fraction_of_level
            ? with_unit(stated_text(std::round(*bounds.fraction_of_level * 1e12) / 1e10), "%")
            : "";
    const std::string fixed = bounds.fixed_lx ? with_unit(stated_text(*bounds.fixed_lx), "lx") : "";
    if (fraction.empty() || fixed.empty())
        return "±" + fraction + fixed + (fixed.empty() ? " of the illuminance" : "");
    if (bounds.greater)
        return fmt::format("±{} of the illuminance or ±{}, whichever is greater", fraction, fixed);
    return fmt::format("±({} of the illuminance + {})", fraction, fixed);
}

}  // namespace

bool is_secondary(std::string_view name, const model::ConditionValue& value,
                  const model::Conditions& conditions)
{
    // Light of its own switched off is the ordinary state; the meter's temperature is no condition of the
    // measurand; the distance only sets the level where there is one. All three stand in the table of runs.
    return (name == "own_light" && value == model::ConditionValue(std::string("off"))) ||
           name == "meter_temperature" || (name == "distance" && conditions.contains("level"));
}

const model::MetricInfo* metric_info(const model::Dossier& dossier, std::string_view metric)
{
    for (const auto& family : dossier.families) {
        const auto found = std::ranges::find(family.metrics, metric, &model::MetricInfo::id);
        if (found != family.metrics.end())
            return &*found;
    }
    return nullptr;
}

std::string metric_title(const model::Dossier& dossier, std::string_view metric)
{
    const auto* const info = metric_info(dossier, metric);
    return info == nullptr || info->title.empty() ? capitalised(spaced(metric)) : info->title;
}

std::string condition_phrase(std::string_view name, const model::ConditionValue& value)
{
    if (const auto* text = std::get_if<std::string>(&value)) {
        if (name == "side" || name == "line" || name == "crossing")
            return fmt::format("{} {}", *text, name);
        if (name == "relative_to")
            return "% of " + *text;
        if (name == "of")  // a metric
            return "of " + spaced(*text);
        if (name == "other_source")
            return "less " + *text;
        if (name == "configuration" || name == "source" || name == "light")
            return *text;
        return fmt::format("{} {}", spaced(name), *text);
    }
    const auto& quantity = std::get<model::ConditionQuantity>(value);
    if (name == "level")
        return quantity_phrase(name, quantity);
    if (name == "angle")
        return "at " + quantity_phrase(name, quantity);
    return fmt::format("{} {}", spaced(name), quantity_phrase(name, quantity));
}

std::string condition_heading(std::string_view name, std::string_view unit)
{
    const std::string heading = name == "relative_to" ? "Relative to" : capitalised(spaced(name));
    const std::string read_unit = as_read(name, {0, std::string(unit)}).unit;
    const std::string printed = unit == "degree" ? "°" : unit_text(read_unit);
    return printed.empty() ? heading : fmt::format("{} / {}", heading, printed);
}

std::string condition_cell(std::string_view name, const model::ConditionValue& value)
{
    if (const auto* text = std::get_if<std::string>(&value))
        return *text;
    return stated_text(as_read(name, std::get<model::ConditionQuantity>(value)).value);
}

std::string conditions_phrase(const model::Result& result, const std::vector<std::string>& left_out)
{
    const auto is_left_out = [&](std::string_view name) {
        return std::ranges::find(left_out, name) != left_out.end();
    };
    std::string phrase = is_left_out("sample") ? std::string() : result.sample;
    const auto add = [&](std::string_view name, const model::ConditionValue& value) {
        if (is_left_out(name))
            return;
        if (!phrase.empty())
            phrase += ", ";
        phrase += condition_phrase(name, value);
    };
    for (const auto name : reading_order) {
        const auto found = result.conditions.find(std::string(name));
        if (found != result.conditions.end())
            add(name, found->second);
    }
    for (const auto& [name, value] : result.conditions) {
        const bool ordinary = is_secondary(name, value, result.conditions);
        if (std::ranges::find(reading_order, name) == reading_order.end() && !ordinary)
            add(name, value);
    }
    return phrase;
}

std::string held_together(std::string text)
{
    constexpr std::string_view loose = " ± ", held = "\u00a0±\u00a0";
    for (auto at = text.find(loose); at != std::string::npos; at = text.find(loose, at))
        text.replace(at, loose.size(), held);
    return text;
}

Text trials_mark_of(const model::Verdict& verdict)
{
    return verdict.by_trials.empty() ? Text{} : styled(trials_mark, Style::superscript);
}

Text trials_note()
{
    Text note = styled(trials_mark, Style::superscript);
    append(note,
           plain(" The first order is not validated: half the interval of the trials stands behind ±, and "
                 "that interval is judged."));
    return note;
}

std::string result_text(const model::Result& result)
{
    if (!result.value)
        return "no value";
    const std::string bound = result.upper_bound ? "≤ " : "";
    if (!result.combined)
        return bound + with_unit(significant_text(*result.value, 3), result.unit);
    const auto rounded = rounded_result(*result.value, *result.expanded_uncertainty());
    return fmt::format("{}{} ± {}", bound, with_unit(rounded.value, result.unit),
                       with_unit(rounded.uncertainty, result.unit));
}

std::string requirement_text(const model::Limit& limit)
{
    if (limit.not_assessed)
        return "not assessed: " + *limit.not_assessed;
    if (limit.plus_minus)
        return plus_minus_text(*limit.plus_minus);
    if (limit.mask)
        return fmt::format("inside the mask {}", limit.mask->file);
    if (limit.lower && limit.upper && *limit.lower == -*limit.upper)
        return "±" + bound_text(*limit.upper, limit.unit);
    return tolerance_text(limit.lower, limit.upper, limit.unit);
}

std::string selection_text(const model::Limit& limit)
{
    std::vector<std::string> parts;
    for (const auto& selector : limit.where)
        parts.push_back(selector_text(selector));
    return parts.empty() ? "all" : fmt::format("{}", fmt::join(parts, ", "));
}

std::string tolerance_text(std::optional<double> lower, std::optional<double> upper, std::string_view unit)
{
    if (lower && upper)
        return fmt::format("{} to {}", bound_text(*lower, unit), bound_text(*upper, unit));
    if (lower)
        return "≥ " + bound_text(*lower, unit);
    return upper ? "≤ " + bound_text(*upper, unit) : "none";
}

std::string counted(std::size_t count, std::string_view singular, std::string_view plural)
{
    if (count == 1)
        return fmt::format("1 {}", singular);
    const std::string number = number_text(static_cast<double>(count), 0);
    return plural.empty() ? fmt::format("{} {}s", number, singular) : fmt::format("{} {}", number, plural);
}

std::string capitalised(std::string_view text)
{
    std::string result(text);
    if (!result.empty())
        result.front() = static_cast<char>(std::toupper(static_cast<unsigned char>(result.front())));
    return result;
}

std::string uncapitalised(std::string_view text)
{
    std::string result(text);
    const bool word = result.size() > 1 && std::islower(static_cast<unsigned char>(result[1])) != 0;
    if (word)
        result.front() = static_cast<char>(std::tolower(static_cast<unsigned char>(result.front())));
    return result;
}

std::string joined(const std::vector<std::string>& items)
{
    std::string text;
    for (std::size_t i = 0; i < items.size(); ++i) {
        if (i > 0)
            text += i + 1 == items.size() ? " and " : ", ";
        text += items[i];
    }
    return text;
}

}  // namespace luxdossier::report
