#include "intake/limits_where.hpp"

#include "intake/quantity_reader.hpp"
#include "intake/run_columns.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

struct FixedWords {
    std::string_view condition;
    std::vector<std::string_view> words;
};

/// Conditions whose values the metrics themselves make, whatever the qualification holds.
std::span<const std::string_view> words_of_metrics(std::string_view condition)
{
    static const std::vector<FixedWords> all = {
        {"line", {"independent", "zero-based", "terminal-based", "least-squares"}},
        {"relative_to", {"reading", "span"}},
        {"side", {"negative", "positive"}},
        {"crossing", {"innermost", "outermost"}},
        {"light", {"capped", "blocked"}},
        {"own_light", {"off", "on"}},
    };
    const auto found = std::ranges::find(all, condition, &FixedWords::condition);
    return found == all.end() ? std::span<const std::string_view>() : std::span(found->words);
}

bool is_numeric_condition(std::string_view name, const Offer& offer)
{
    return condition_dimension(name) != nullptr || offer.numbers.contains(name);
}

/// Distinct ids, declared ones first.
void add_id(std::vector<std::string>& ids, const std::string& id)
{
    if (!id.empty() && std::ranges::find(ids, id) == ids.end())
        ids.push_back(id);
}

void offer_conditions(const model::Run& run, Offer& offer)
{
    for (const auto& [name, value] : run.conditions) {
        if (const auto* text = std::get_if<std::string>(&value)) {
            offer.texts[name].insert(*text);
        } else {
            const auto& quantity = std::get<model::ConditionQuantity>(value);
            offer.numbers[name].insert(quantity.value);
            offer.units[name] = quantity.unit;
        }
    }
    const auto* levels = run.table ? run.table->number("level") : nullptr;
    for (const auto row : levels == nullptr ? std::vector<std::uint32_t>() : run.rows) {
        if (!std::isnan(levels->values[row]))
            offer.numbers["level"].insert(levels->values[row]);
    }
}

bool about_equal(double a, double b)
{
    return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b));
}

/// One number of a selection in the unit of the condition.
std::optional<double> read_selected_number(const JsonReading& reading, const JsonValue& value,
                                           std::string_view name, const JsonValue* unit_of_range,
                                           const Offer& offer)
{
    const auto* known = condition_dimension(name);
    const auto own = offer.units.find(name);
    const std::string unit = known != nullptr           ? std::string(known->unit)
                             : own == offer.units.end() ? "1"
                                                        : own->second;
    const Dimension dimension{unit, known != nullptr ? known->quantity : std::string_view("a condition")};
    if (value.kind == JsonValue::Kind::object) {
        const auto number = read_plain_quantity(reading, value, name, dimension);
        return number ? std::optional(without_noise(*number)) : std::nullopt;
    }
    if (value.kind != JsonValue::Kind::number) {
        reading.fault(value, fmt::format("found {} for \"{}\"", reading.describe(value), name), "a number");
        return std::nullopt;
    }
    if (unit_of_range != nullptr) {
        const auto conversion = read_unit(reading, *unit_of_range, name, dimension);
        return conversion ? std::optional(without_noise((*conversion)(value.number))) : std::nullopt;
    }
    if (unit != "lx" && unit != "degree" && unit != "1") {
        reading.fault(value, fmt::format("found {} without a unit for \"{}\"", reading.describe(value), name),
                      fmt::format("{{\"value\": {}, \"unit\": \"{}\"}}",
                                  reading.source.text().substr(value.offset, value.length), unit));
        return std::nullopt;
    }
    return value.number;
}

void check_number_is_offered(const JsonReading& reading, const JsonValue& at, const model::Selector& selector,
                             const Offer& offer)
{
    // Angles lie along the scan and need not be conditions of a run.
    const auto offered = offer.numbers.find(selector.name);
    if (!offer.known || selector.name == "angle")
        return;
    const auto fits = [&selector](double value) {
        return (!selector.from || value > *selector.from || about_equal(value, *selector.from)) &&
               (!selector.to || value < *selector.to || about_equal(value, *selector.to));
    };
    if (offered != offer.numbers.end() && std::ranges::any_of(offered->second, fits))
        return;
    std::string expected = fmt::format("a {} that a run states", selector.name);
    if (offered != offer.numbers.end() && offered->second.size() <= 12) {
        expected += ": ";
        for (const auto value : offered->second)
            expected += fmt::format("{}{}", expected.ends_with(' ') ? "" : ", ", value);
        const auto& unit = condition_dimension(selector.name) != nullptr
                               ? std::string(condition_dimension(selector.name)->unit)
                               : offer.units.find(selector.name)->second;
        expected += " " + unit;
    }
    reading.fault(at, fmt::format("found a {} that no run meets", selector.name), expected);
}

void read_numeric(const JsonReading& reading, const JsonValue& value, const Offer& offer,
                  model::Selector& selector)
{
    const auto is_range = value.kind == JsonValue::Kind::object && value.find("value") == nullptr;
    if (!is_range) {
        if (value.kind == JsonValue::Kind::array) {
            reading.fault(value, fmt::format("found an array for \"{}\"", selector.name),
                          "one value or a range {\"from\", \"to\", \"unit\"}",
                          "write one limit for each value");
            return;
        }
        selector.from = read_selected_number(reading, value, selector.name, nullptr, offer);
        selector.to = selector.from;
        if (selector.from)
            check_number_is_offered(reading, value, selector, offer);
        return;
    }
    ObjectReader range(reading, &value, fmt::format("range of \"{}\"", selector.name));
    const auto* from = range.find("from");
    const auto* to = range.find("to");
    const auto* unit = range.require("unit", "text");
    range.finish();
    if (from == nullptr && to == nullptr)
        reading.fault(value, fmt::format("found neither \"from\" nor \"to\" for \"{}\"", selector.name),
                      "one of them or both");
    if (unit == nullptr)
        return;
    if (from != nullptr)
        selector.from = read_selected_number(reading, *from, selector.name, unit, offer);
    if (to != nullptr)
        selector.to = read_selected_number(reading, *to, selector.name, unit, offer);
    if (selector.from && selector.to && *selector.from > *selector.to)
        reading.fault(*to, fmt::format("found a range of \"{}\" that ends before it begins", selector.name),
                      "\"to\" not below \"from\"");
    else if (selector.from || selector.to)
        check_number_is_offered(reading, value, selector, offer);
}

/// The texts that a condition can have; empty where any will do.
std::vector<std::string_view> offered_texts(std::string_view name, const Offer& offer)
{
    const auto words = words_of_metrics(name);
    std::vector<std::string_view> offered(words.begin(), words.end());
    const auto add = [&offered](const auto& texts) {
        offered.insert(offered.end(), texts.begin(), texts.end());
    };
    if (name == "correction")
        add(offer.corrections);
    else if (name == "sample")
        add(offer.samples);
    else if (name == "configuration")
        add(offer.configurations);
    else if (name == "source" || name == "other_source")
        add(offer.sources);
    else if (words.empty()) {
        if (const auto stated = offer.texts.find(name); stated != offer.texts.end())
            add(stated->second);
    }
    return offered;
}

void read_id(const JsonReading& reading, const JsonValue& value, const Offer& offer,
             model::Selector& selector)
{
    const auto text = text_of(reading, value, selector.name);
    if (!text)
        return;
    const auto offered = offered_texts(selector.name, offer);
    const auto is_fixed = !words_of_metrics(selector.name).empty();
    if ((offer.known || is_fixed) && !offered.empty() && std::ranges::find(offered, *text) == offered.end()) {
        const auto near = diagnostics::nearest(*text, offered);
        reading.fault(value, fmt::format("found unknown {} {}", selector.name, diagnostics::quoted(*text)),
                      near.empty() ? offered.size() <= 12 ? listed(offered) : "an id of the qualification"
                                   : fmt::format("\"{}\"", near));
        return;
    }
    selector.ids.push_back(*text);
}

/// Ids of the kind that `expects` names, each checked.
std::optional<std::vector<std::string>> read_expected_ids(ObjectReader& reader, std::string_view key,
                                                          std::string_view condition, bool is_carried,
                                                          const Offer& offer)
{
    const auto* list = reader.find(key);
    if (list == nullptr)
        return std::nullopt;
    if (!is_carried)
        reader.reading().fault(*list, fmt::format("found \"{}\" for a metric without {}", key, condition),
                               "conditions that the metric carries");
    model::Selector selector;
    selector.name = std::string(condition);
    for (const auto& item : reader.items(key))
        read_id(reader.reading(), item, offer, selector);
    if (list->kind == JsonValue::Kind::array && list->items.empty())
        reader.reading().fault(*list, fmt::format("found nothing in \"{}\"", key), "one id or more",
                               "leave the key out to expect all that \"where\" admits");
    return selector.ids;
}

}  // namespace

Offer offer_of(const model::Qualification* qualification)
{
    Offer offer;
    if (qualification == nullptr)
        return offer;
    offer.known = true;
    for (const auto& sample : qualification->samples)
        add_id(offer.samples, sample.id);
    for (const auto& configuration : qualification->configurations)
        add_id(offer.configurations, configuration.id);
    for (const auto& source : qualification->sources)
        add_id(offer.sources, source.id);
    for (const auto& correction : qualification->corrections)
        add_id(offer.corrections, correction.id);
    for (const auto& run : qualification->runs) {
        add_id(offer.samples, run.sample);
        add_id(offer.configurations, run.configuration);
        add_id(offer.sources, run.source);
        offer_conditions(run, offer);
    }
    return offer;
}

std::vector<model::Selector> read_where(const JsonReading& reading, const JsonValue& where,
                                        const model::MetricEntry& metric, const Offer& offer)
{
    std::vector<model::Selector> selectors;
    ObjectReader reader(reading, &where, "\"where\"");
    if (!reader.is_object())
        return selectors;
    std::vector<std::string_view> names;
    if (metric.has_sample)
        names.emplace_back("sample");
    names.insert(names.end(), metric.conditions.begin(), metric.conditions.end());
    const auto carried = names.size();
    for (const auto& [name, texts] : offer.texts)
        names.push_back(name);
    for (const auto& [name, numbers] : offer.numbers) {
        if (name != "level")
            names.push_back(name);
    }
    for (const auto& member : where.members) {
        if (member.key == "comment")
            continue;
        const auto is_known = std::ranges::find(names, member.key) != names.end();
        const auto near = diagnostics::nearest(member.key, names);
        if (!is_known && !offer.known && member.key != "sample" && near.empty())
            continue;  // a run may state it: nobody can tell yet
        if (!is_known) {
            const std::span own(names.data(), carried);
            reading.key_fault(where, member,
                              fmt::format("found condition {} for metric \"{}\"",
                                          diagnostics::quoted(member.key), metric.id),
                              near.empty() ? listed(own) : fmt::format("\"{}\"", near),
                              near.empty() ? "conditions that runs state can be named too" : "");
            continue;
        }
        model::Selector selector;
        selector.name = member.key;
        const auto is_text = member.value.kind == JsonValue::Kind::text;
        if (is_numeric_condition(member.key, offer) &&
            !(is_text && member.value.text == "mean" && member.key == "plane")) {
            read_numeric(reading, member.value, offer, selector);
        } else if (member.value.kind == JsonValue::Kind::array) {
            for (const auto& item : member.value.items)
                read_id(reading, item, offer, selector);
            if (member.value.items.empty())
                reading.fault(member.value, fmt::format("found nothing for \"{}\"", member.key),
                              "one id or more");
        } else if (is_text && member.key == "plane") {
            selector.ids.push_back(member.value.text);
        } else {
            read_id(reading, member.value, offer, selector);
        }
        selectors.push_back(std::move(selector));
    }
    return selectors;
}

model::Expects read_expects(const JsonReading& reading, const JsonValue& value,
                            const model::MetricEntry& metric, const Offer& offer)
{
    model::Expects expects;
    ObjectReader reader(reading, &value, "\"expects\"");
    const auto carries = [&metric](std::string_view name) {
        return std::ranges::find(metric.conditions, name) != metric.conditions.end();
    };
    expects.samples = read_expected_ids(reader, "samples", "sample", metric.has_sample, offer);
    expects.configurations =
        read_expected_ids(reader, "configurations", "configuration", carries("configuration"), offer);
    expects.sources = read_expected_ids(reader, "sources", "source", carries("source"), offer);
    if (const auto* levels = reader.find("levels")) {
        if (!carries("level"))
            reading.fault(*levels, "found \"levels\" for a metric without level",
                          "conditions that the metric carries");
        std::vector<double> read;
        for (const auto& item : reader.items("levels")) {
            const auto level = read_selected_number(reading, item, "level", nullptr, offer);
            if (level &&
                check_range(reading, item.kind == JsonValue::Kind::object ? *item.find("value") : item,
                            *level, "levels", Range::positive))
                read.push_back(*level);
        }
        expects.levels_lx = std::move(read);
    }
    reader.finish();
    return expects;
}

}  // namespace luxdossier::intake
