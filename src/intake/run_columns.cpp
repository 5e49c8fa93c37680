#include "intake/run_columns.hpp"

#include "intake/quantity_reader.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

using Unit = ColumnMeaning::Unit;

constexpr ColumnMeaning sensor(bool required)
{
    return {"sensor", Unit::own_reading, illuminance, required};
}
constexpr ColumnMeaning meter(bool required)
{
    return {"meter", Unit::stated, illuminance, required};
}
constexpr ColumnMeaning time_of(bool required)
{
    return {"time", Unit::time, duration, required};
}
constexpr ColumnMeaning level{"level", Unit::stated, illuminance, false};
constexpr ColumnMeaning range{"range", Unit::stated, illuminance, false};
constexpr ColumnMeaning logged_temperature{"temperature", Unit::stated, temperature, false};
constexpr ColumnMeaning monitor{"monitor", Unit::any, ratio, false};

constexpr std::array dark_columns{sensor(false), meter(false), time_of(false), range};
constexpr std::array comparison_columns{level,          sensor(true),       meter(true),
                                        time_of(false), logged_temperature, range};
constexpr std::array position_columns{ColumnMeaning{"place", Unit::none, ratio, true}, meter(true),
                                      time_of(false), level, range};
constexpr std::array field_map_columns{ColumnMeaning{"x", Unit::stated, length, true},
                                       ColumnMeaning{"y", Unit::stated, length, true}, meter(true),
                                       time_of(false), range};
constexpr std::array warm_up_columns{time_of(true), meter(true), range};
constexpr std::array angular_columns{ColumnMeaning{"angle", Unit::stated, plane_angle, true}, sensor(true),
                                     monitor, time_of(false),
                                     ColumnMeaning{"screened", Unit::optional, ratio, false}};
constexpr std::array near_infrared_columns{ColumnMeaning{"irradiance", Unit::stated, irradiance, true},
                                           sensor(true),
                                           meter(false),
                                           time_of(false),
                                           range,
                                           level};
constexpr std::array waveform_columns{time_of(true), ColumnMeaning{"signal", Unit::any, ratio, true}};

/// Readings that belong to some kind of run: elsewhere they are a slip, not a condition by which a run is
/// split.
constexpr std::array<std::string_view, 11> readings_of_kinds{
    "sensor", "meter", "monitor", "time", "range", "place", "x", "y", "screened", "irradiance", "signal"};

constexpr std::array<std::string_view, 3> id_columns{"sample", "configuration", "source"};

struct KnownCondition {
    std::string_view name;
    Dimension dimension;
};
constexpr std::array known_conditions{KnownCondition{"level", illuminance},
                                      KnownCondition{"distance", length},
                                      KnownCondition{"temperature", temperature},
                                      KnownCondition{"wavelength", length},
                                      KnownCondition{"plane", angle_in_degree},
                                      KnownCondition{"angle", angle_in_degree},
                                      KnownCondition{"integration_time", duration},
                                      KnownCondition{"meter_temperature", temperature},
                                      KnownCondition{"readings", ratio}};

/// Conditions of a meaning of their own, for the nearest one to a misspelt meaning.
constexpr std::array<std::string_view, 12> condition_names{
    "level",     "distance", "temperature", "wavelength", "plane",   "integration_time", "meter_temperature",
    "own_light", "light",    "day",         "operator",   "readings"};

/// What a column's unit makes of its numbers; the kind of column for time.
void read_column_unit(const JsonReading& reading, ObjectReader& column, const ColumnMeaning& meaning,
                      std::optional<double>& scale, ColumnRequest& request)
{
    const auto* unit = column.find("unit");
    request.unit = std::string(meaning.dimension.unit);
    if (unit == nullptr) {
        if (meaning.unit == Unit::time)
            request.kind = ColumnKind::date_time;
        else if (meaning.unit != Unit::optional)
            reading.fault(column.value(), fmt::format("found no \"unit\" for column \"{}\"", meaning.name),
                          meaning.unit == Unit::any ? "\"unit\": text" : unit_examples(meaning.dimension));
        return;
    }
    if (meaning.unit == Unit::time)
        request.kind = ColumnKind::time;
    if (unit->kind == JsonValue::Kind::text)
        request.written_unit = unit->text;
    if (meaning.unit == Unit::any && unit->kind == JsonValue::Kind::text &&
        !canonical_unit(unit->text).empty()) {
        request.unit = unit->text;
        return;
    }
    const auto in_counts = meaning.unit == Unit::own_reading && unit->kind == JsonValue::Kind::text &&
                           convert_unit(unit->text, "1").state == UnitState::known;
    if (in_counts && !scale) {
        reading.fault(*unit,
                      fmt::format("found unit {} for \"{}\"", diagnostics::quoted(unit->text), meaning.name),
                      unit_examples(illuminance), "counts need the product's \"scale\" in lx per count");
        scale = 1.0;
        return;
    }
    const auto conversion = read_unit(reading, *unit, meaning.name, in_counts ? ratio : meaning.dimension);
    request.conversion = conversion.value_or(Conversion{});
    if (in_counts)
        request.conversion.scale *= *scale;
}

/// A condition of the user's own as a column: a quantity where it has a unit, else text.
void read_own_condition(const JsonReading& reading, ObjectReader& column, ColumnRequest& request)
{
    const auto* unit = column.find("unit");
    request.is_condition = true;
    const auto words = condition_words(request.meaning);
    request.words.assign(words.begin(), words.end());
    if (unit == nullptr) {
        request.kind = ColumnKind::text;
        return;
    }
    request.unit = unit->kind == JsonValue::Kind::text ? canonical_unit(unit->text) : std::string();
    if (request.unit.empty()) {
        reading.fault(
            *unit, fmt::format("found unknown unit {} for \"{}\"", reading.describe(*unit), request.meaning),
            "a unit that udunits2 knows");
        return;
    }
    request.written_unit = unit->text;
    request.conversion = convert_unit(unit->text, request.unit).conversion;
}

/// A meaning that is one letter off a known one is a slip, not a condition of the user's own.
bool check_no_slip(const JsonReading& reading, const JsonValue& columns, const JsonMember& member,
                   model::RunKind kind)
{
    std::vector<std::string_view> known(id_columns.begin(), id_columns.end());
    for (const auto& meaning : meanings_of(kind))
        known.push_back(meaning.name);
    const auto is_condition = std::ranges::find(condition_names, member.key) != condition_names.end();
    const auto near = diagnostics::nearest(member.key, known);
    if (is_condition || near.empty())
        return true;
    reading.key_fault(columns, member,
                      fmt::format("found unknown column {} in a run of kind \"{}\"",
                                  diagnostics::quoted(member.key), model::run_kind_text(kind)),
                      fmt::format("\"{}\"", near));
    return false;
}

std::optional<ColumnRequest> read_column(const JsonReading& reading, const JsonValue& columns,
                                         const JsonMember& member, model::RunKind kind,
                                         std::optional<double>& scale)
{
    ObjectReader column(reading, &member.value, fmt::format("column \"{}\"", member.key));
    if (!column.is_object())
        return std::nullopt;
    ColumnRequest request;
    request.meaning = member.key;
    request.heading = column.required_text("column");
    request.at = member.value.find("column");
    const auto meanings = meanings_of(kind);
    const auto meaning = std::ranges::find(meanings, member.key, &ColumnMeaning::name);
    const auto is_id = std::ranges::find(id_columns, member.key) != id_columns.end();
    if (is_id || (meaning != meanings.end() && meaning->unit == Unit::none)) {
        request.kind = ColumnKind::text;
        request.is_condition = is_id;
        if (member.key == "place")
            request.words = {"sensor", "reference"};
        if (const auto* unit = column.find("unit"))
            reading.fault(*unit, fmt::format("found a unit for \"{}\"", member.key),
                          "no unit: this column holds text");
    } else if (meaning != meanings.end()) {
        read_column_unit(reading, column, *meaning, scale, request);
    } else if (member.key == "angle" ||
               std::ranges::find(readings_of_kinds, member.key) != readings_of_kinds.end()) {
        std::vector<std::string_view> known;
        for (const auto& one : meanings)
            known.push_back(one.name);
        reading.key_fault(columns, member,
                          fmt::format("found column \"{}\" in a run of kind \"{}\"", member.key,
                                      model::run_kind_text(kind)),
                          listed(known) + " or a condition");
        return std::nullopt;
    } else if (const auto* dimension = condition_dimension(member.key)) {
        read_column_unit(reading, column, {member.key, Unit::stated, *dimension, false}, scale, request);
        request.is_condition = true;
    } else {
        if (!check_no_slip(reading, columns, member, kind))
            return std::nullopt;
        read_own_condition(reading, column, request);
    }
    column.finish();
    return request.at == nullptr ? std::nullopt : std::optional(std::move(request));
}

}  // namespace

std::span<const ColumnMeaning> meanings_of(model::RunKind kind)
{
    switch (kind) {
    case model::RunKind::dark:
        return dark_columns;
    case model::RunKind::comparison:
        return comparison_columns;
    case model::RunKind::position:
        return position_columns;
    case model::RunKind::field_map:
        return field_map_columns;
    case model::RunKind::warm_up:
        return warm_up_columns;
    case model::RunKind::angular:
        return angular_columns;
    case model::RunKind::near_infrared:
        return near_infrared_columns;
    case model::RunKind::waveform:
        return waveform_columns;
    }
    return {};
}

const Dimension* condition_dimension(std::string_view name)
{
    const auto found = std::ranges::find(known_conditions, name, &KnownCondition::name);
    return found == known_conditions.end() ? nullptr : &found->dimension;
}

std::span<const std::string_view> condition_words(std::string_view name)
{
    static constexpr std::array<std::string_view, 2> light{"capped", "blocked"};
    static constexpr std::array<std::string_view, 2> own_light{"off", "on"};
    if (name == "light")
        return light;
    if (name == "own_light")
        return own_light;
    return {};
}

std::vector<ColumnRequest> read_columns(const JsonReading& reading, const JsonValue& columns,
                                        model::RunKind kind, std::optional<double>& scale)
{
    std::vector<ColumnRequest> requests;
    if (columns.kind != JsonValue::Kind::object) {
        reading.fault(columns, fmt::format("found {} for \"columns\"", reading.describe(columns)),
                      "an object that maps meanings to headings");
        return requests;
    }
    for (const auto& member : columns.members) {
        if (member.key == "comment")
            continue;
        if (auto request = read_column(reading, columns, member, kind, scale))
            requests.push_back(std::move(*request));
    }
    return requests;
}

std::optional<model::ConditionValue> read_condition(const JsonReading& reading, std::string_view name,
                                                    const JsonValue& value)
{
    if (const auto* dimension = condition_dimension(name)) {
        const auto range = name == "level" || name == "distance" || name == "wavelength" ||
                                   name == "readings" || name == "integration_time"
                               ? Range::positive
                               : Range::any;
        const auto number = read_plain_quantity(reading, value, name, *dimension, range);
        if (!number)
            return std::nullopt;
        return model::ConditionQuantity{without_noise(*number), std::string(dimension->unit)};
    }
    const auto words = condition_words(name);
    if (value.kind == JsonValue::Kind::text) {
        if (words.empty() || std::ranges::find(words, value.text) != words.end())
            return value.text;
        reading.fault(value, fmt::format("found {} for \"{}\"", diagnostics::quoted(value.text), name),
                      listed(words));
        return std::nullopt;
    }
    if (value.kind == JsonValue::Kind::object && words.empty()) {
        const auto quantity = read_free_quantity(reading, value, name);
        return quantity ? std::optional<model::ConditionValue>(*quantity) : std::nullopt;
    }
    reading.fault(value, fmt::format("found {} for condition \"{}\"", reading.describe(value), name),
                  words.empty() ? "text or a quantity {\"value\": ..., \"unit\": ...}" : listed(words));
    return std::nullopt;
}

void read_conditions(const JsonReading& reading, const JsonValue& conditions, model::Conditions& read)
{
    if (conditions.kind != JsonValue::Kind::object) {
        reading.fault(conditions, fmt::format("found {} for \"conditions\"", reading.describe(conditions)),
                      "an object in braces");
        return;
    }
    for (const auto& member : conditions.members) {
        if (member.key == "comment")
            continue;
        if (!is_id(member.key))
            reading.key_fault(
                conditions, member,
                fmt::format("found {} as the name of a condition", diagnostics::quoted(member.key)),
                "letters, digits, dots, hyphens and underscores");
        else if (auto value = read_condition(reading, member.key, member.value))
            read.insert_or_assign(member.key, std::move(*value));
    }
}

}  // namespace luxdossier::intake
