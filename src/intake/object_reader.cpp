#include "intake/object_reader.hpp"

#include "intake/dates.hpp"
#include "intake/quantity_reader.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr std::string_view id_pattern =
    "an id: a letter or digit, then letters, digits, dots, hyphens or underscores";
constexpr std::size_t most_listed = 14;

std::string_view range_text(Range range)
{
    switch (range) {
    case Range::any:
        return "any number";
    case Range::positive:
        return "a number above 0";
    case Range::not_negative:
        return "a number not below 0";
    case Range::open_unit:
        return "a number between 0 and 1, both excluded";
    }
    return {};
}

bool is_inside(double value, Range range)
{
    switch (range) {
    case Range::any:
        return true;
    case Range::positive:
        return value > 0;
    case Range::not_negative:
        return value >= 0;
    case Range::open_unit:
        return value > 0 && value < 1;
    }
    return false;
}

}  // namespace

void JsonReading::fault(const JsonValue& at, std::string found, std::string expected,
                        std::string advice) const
{
    auto made = source.diagnostic(at.offset, at.length, at.pointer);
    made.found = std::move(found);
    made.expected = std::move(expected);
    made.advice = std::move(advice);
    diagnostics.add(std::move(made));
}

void JsonReading::key_fault(const JsonValue& object, const JsonMember& member, std::string found,
                            std::string expected, std::string advice) const
{
    auto made = source.diagnostic(member.key_offset, member.key_length, member.value.pointer);
    (void)object;
    made.found = std::move(found);
    made.expected = std::move(expected);
    made.advice = std::move(advice);
    diagnostics.add(std::move(made));
}

bool is_id(std::string_view text)
{
    const auto letter_or_digit = [](char c) {
        return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
    };
    return !text.empty() && letter_or_digit(text.front()) && std::ranges::all_of(text, [&](char c) {
        return letter_or_digit(c) || c == '.' || c == '_' || c == '-';
    });
}

bool check_range(const JsonReading& reading, const JsonValue& at, double value, std::string_view name,
                 Range range)
{
    if (is_inside(value, range))
        return true;
    reading.fault(at, fmt::format("found {} for \"{}\"", reading.describe(at), name),
                  std::string(range_text(range)));
    return false;
}

std::optional<std::string> text_of(const JsonReading& reading, const JsonValue& value, std::string_view name)
{
    if (value.kind == JsonValue::Kind::text)
        return value.text;
    reading.fault(value, fmt::format("found {} for \"{}\"", reading.describe(value), name),
                  "text in double quotes");
    return std::nullopt;
}

std::string listed(std::span<const std::string_view> words)
{
    std::string text;
    for (std::size_t i = 0; i < words.size(); ++i)
        text += fmt::format("{}\"{}\"", i == 0 ? "" : i + 1 == words.size() ? " or " : ", ", words[i]);
    return text;
}

ObjectReader::ObjectReader(const JsonReading& reading, const JsonValue* value, std::string label)
    : reading_(reading), label_(std::move(label))
{
    if (value == nullptr)
        return;
    if (value->kind == JsonValue::Kind::object)
        object_ = value;
    else
        reading_.fault(*value, fmt::format("found {} for {}", reading_.describe(*value), label_),
                       "an object in braces");
}

const JsonValue* ObjectReader::find(std::string_view key)
{
    known_.emplace_back(key);
    return object_ == nullptr ? nullptr : object_->find(key);
}

const JsonValue* ObjectReader::require(std::string_view key, std::string_view what)
{
    const auto* value = find(key);
    if (value == nullptr && object_ != nullptr)
        missing_.push_back({std::string(key), std::string(what)});
    return value;
}

std::optional<std::string> ObjectReader::optional_text(std::string_view key)
{
    const auto* value = find(key);
    return value == nullptr ? std::nullopt : text_of(reading_, *value, key);
}

std::string ObjectReader::text(std::string_view key)
{
    return optional_text(key).value_or(std::string());
}

std::string ObjectReader::required_text(std::string_view key)
{
    const auto* value = require(key, "text");
    if (value == nullptr)
        return {};
    auto text = text_of(reading_, *value, key);
    if (text && text->empty())
        reading_.fault(*value, fmt::format("found empty text for \"{}\"", key), "text");
    return std::move(text).value_or(std::string());
}

std::string ObjectReader::id_of(const JsonValue* value)
{
    if (value == nullptr)
        return {};
    if (value->kind == JsonValue::Kind::text && is_id(value->text))
        return value->text;
    reading_.fault(*value, fmt::format("found {} as an id", reading_.describe(*value)),
                   std::string(id_pattern));
    return {};
}

std::string ObjectReader::id(std::string_view key)
{
    return id_of(find(key));
}

std::string ObjectReader::required_id(std::string_view key)
{
    return id_of(require(key, "an id"));
}

std::optional<double> ObjectReader::number_of(const JsonValue* value, std::string_view key, Range range)
{
    if (value == nullptr)
        return std::nullopt;
    if (value->kind != JsonValue::Kind::number) {
        const auto is_quantity = value->kind == JsonValue::Kind::object && value->find("value") != nullptr;
        reading_.fault(*value, fmt::format("found {} for \"{}\"", reading_.describe(*value), key),
                       "a plain number", is_quantity ? "write the value alone: this key has no unit" : "");
        return std::nullopt;
    }
    if (!check_range(reading_, *value, value->number, key, range))
        return std::nullopt;
    return value->number;
}

std::optional<double> ObjectReader::number(std::string_view key, Range range)
{
    return number_of(find(key), key, range);
}

std::optional<double> ObjectReader::required_number(std::string_view key, Range range)
{
    return number_of(require(key, "a plain number"), key, range);
}

std::optional<bool> ObjectReader::boolean(std::string_view key)
{
    const auto* value = find(key);
    if (value == nullptr)
        return std::nullopt;
    if (value->kind == JsonValue::Kind::boolean)
        return value->boolean;
    reading_.fault(*value, fmt::format("found {} for \"{}\"", reading_.describe(*value), key),
                   "true or false");
    return std::nullopt;
}

std::optional<model::Date> ObjectReader::date(std::string_view key)
{
    const auto* value = find(key);
    if (value == nullptr)
        return std::nullopt;
    const auto date = value->kind == JsonValue::Kind::text ? parse_date(value->text) : std::nullopt;
    if (!date)
        reading_.fault(*value, fmt::format("found {} for \"{}\"", reading_.describe(*value), key),
                       "a date such as \"2025-03-10\"");
    return date;
}

std::optional<model::Date> ObjectReader::required_date(std::string_view key)
{
    if (require(key, "a date such as \"2025-03-10\"") == nullptr)
        return std::nullopt;
    return date(key);
}

std::optional<std::size_t> ObjectReader::choice(std::string_view key,
                                                std::span<const std::string_view> choices)
{
    const auto* value = find(key);
    if (value == nullptr)
        return std::nullopt;
    if (value->kind == JsonValue::Kind::text) {
        const auto found = std::ranges::find(choices, value->text);
        if (found != choices.end())
            return static_cast<std::size_t>(found - choices.begin());
        const auto near = diagnostics::nearest(value->text, choices);
        reading_.fault(*value, fmt::format("found {} for \"{}\"", diagnostics::quoted(value->text), key),
                       listed(choices), near.empty() ? "" : fmt::format("did you mean \"{}\"?", near));
    } else {
        reading_.fault(*value, fmt::format("found {} for \"{}\"", reading_.describe(*value), key),
                       listed(choices));
    }
    return std::nullopt;
}

std::optional<std::size_t> ObjectReader::required_choice(std::string_view key,
                                                         std::span<const std::string_view> choices)
{
    if (require(key, listed(choices)) == nullptr)
        return std::nullopt;
    return choice(key, choices);
}

std::span<const JsonValue> ObjectReader::items(std::string_view key)
{
    const auto* value = find(key);
    if (value == nullptr)
        return {};
    if (value->kind != JsonValue::Kind::array) {
        reading_.fault(*value, fmt::format("found {} for \"{}\"", reading_.describe(*value), key),
                       "an array in square brackets");
        return {};
    }
    return value->items;
}

std::vector<std::string> ObjectReader::texts(std::string_view key)
{
    std::vector<std::string> all;
    for (const auto& item : items(key)) {
        if (auto text = text_of(reading_, item, key))
            all.push_back(std::move(*text));
    }
    return all;
}

ObjectReader ObjectReader::object(std::string_view key, std::string label)
{
    return {reading_, find(key), std::move(label)};
}

std::optional<model::Quantity> ObjectReader::quantity(std::string_view key, const Dimension& dimension,
                                                      Range range)
{
    const auto* value = find(key);
    return value == nullptr ? std::nullopt : read_quantity(reading_, *value, key, dimension, range);
}

std::optional<double> ObjectReader::plain(std::string_view key, const Dimension& dimension, Range range)
{
    const auto* value = find(key);
    return value == nullptr ? std::nullopt : read_plain_quantity(reading_, *value, key, dimension, range);
}

std::optional<double> ObjectReader::required_plain(std::string_view key, const Dimension& dimension,
                                                   Range range)
{
    const auto* value = require(key, fmt::format("{{\"value\": ..., \"unit\": \"{}\"}}", dimension.unit));
    return value == nullptr ? std::nullopt : read_plain_quantity(reading_, *value, key, dimension, range);
}

void ObjectReader::finish()
{
    if (object_ == nullptr)
        return;
    std::vector<std::string_view> known;
    for (const auto& key : known_) {
        if (std::ranges::find(known, key) == known.end())
            known.emplace_back(key);
    }
    std::vector<std::string_view> misspelt;
    for (const auto& member : object_->members) {
        if (member.key == "comment" || std::ranges::find(known, member.key) != known.end())
            continue;
        const auto near = diagnostics::nearest(member.key, known);
        if (!near.empty())
            misspelt.push_back(near);
        std::string expected;
        if (!near.empty())
            expected = fmt::format("\"{}\"", near);
        else if (known.size() <= most_listed)
            expected = listed(known);
        reading_.key_fault(*object_, member,
                           fmt::format("found unknown key {} in {}", diagnostics::quoted(member.key), label_),
                           expected, near.empty() ? "notes of your own go under \"comment\"" : "");
    }
    report_missing(misspelt);
}

void ObjectReader::finish_required()
{
    report_missing({});
}

void ObjectReader::report_missing(std::span<const std::string_view> misspelt)
{
    for (const auto& [key, what] : missing_) {
        if (std::ranges::find(misspelt, key) == misspelt.end())
            reading_.fault(*object_, fmt::format("found no \"{}\" in {}", key, label_),
                           fmt::format("\"{}\": {}", key, what));
    }
    missing_.clear();
}

}  // namespace luxdossier::intake
