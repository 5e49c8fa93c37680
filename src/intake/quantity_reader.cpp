#include "intake/quantity_reader.hpp"

#include <cmath>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

bool check_is_quantity(const JsonReading& reading, const JsonValue& value, std::string_view name,
                       const Dimension& dimension)
{
    if (value.kind == JsonValue::Kind::object)
        return true;
    const auto number = value.kind == JsonValue::Kind::number
                            ? reading.source.text().substr(value.offset, value.length)
                            : std::string_view("...");
    reading.fault(
        value, fmt::format("found {} for \"{}\"", reading.describe(value), name),
        fmt::format("a quantity such as {{\"value\": {}, \"unit\": \"{}\"}}", number, dimension.unit));
    return false;
}

/// The one statement of uncertainty, or none. Source: JCGM 100:2008, 4.3.3 (expanded), 4.3.7 (rectangular).
void read_uncertainty(ObjectReader& reader, const Conversion& conversion, model::Quantity& quantity)
{
    const auto standard = reader.number("standard_uncertainty", Range::not_negative);
    const auto expanded = reader.number("expanded_uncertainty", Range::not_negative);
    const auto factor = reader.number("coverage_factor", Range::positive);
    const auto half_width = reader.number("half_width", Range::not_negative);
    const auto freedom = reader.number("degrees_of_freedom", Range::positive);
    const auto& object = reader.value();
    const auto stated = [&object](std::string_view key) { return object.find(key) != nullptr; };
    const auto statements = (stated("standard_uncertainty") ? 1 : 0) +
                            (stated("expanded_uncertainty") ? 1 : 0) + (stated("half_width") ? 1 : 0);
    const auto& reading = reader.reading();
    if (statements > 1)
        reading.fault(object,
                      fmt::format("found {} statements of uncertainty in {}", statements, reader.label()),
                      "exactly one of \"standard_uncertainty\", \"expanded_uncertainty\" or \"half_width\"");
    if (stated("expanded_uncertainty") != stated("coverage_factor"))
        reading.fault(
            object,
            fmt::format("found \"{}\" without \"{}\" in {}",
                        factor || stated("coverage_factor") ? "coverage_factor" : "expanded_uncertainty",
                        factor || stated("coverage_factor") ? "expanded_uncertainty" : "coverage_factor",
                        reader.label()),
            "both or neither");
    if (stated("degrees_of_freedom") && statements == 0)
        reading.fault(
            *object.find("degrees_of_freedom"),
            fmt::format("found \"degrees_of_freedom\" without an uncertainty in {}", reader.label()),
            "\"standard_uncertainty\" or another statement of uncertainty beside it");
    const auto scale = std::abs(conversion.scale);
    if (standard)
        quantity.standard_uncertainty = *standard * scale;
    else if (expanded && factor)
        quantity.standard_uncertainty = *expanded / *factor * scale;
    else if (half_width) {
        quantity.half_width = *half_width * scale;
        quantity.standard_uncertainty = *half_width * scale / std::sqrt(3.0);
        quantity.distribution = uncertainty::Distribution::rectangular;
    }
    if (freedom) {
        quantity.degrees_of_freedom = *freedom;
        if (quantity.distribution == uncertainty::Distribution::normal)
            quantity.distribution = uncertainty::Distribution::student_t;
    }
}

}  // namespace

std::optional<Conversion> read_unit(const JsonReading& reading, const JsonValue& value, std::string_view name,
                                    const Dimension& dimension)
{
    if (value.kind != JsonValue::Kind::text) {
        reading.fault(value, fmt::format("found {} as the unit of \"{}\"", reading.describe(value), name),
                      unit_examples(dimension));
        return std::nullopt;
    }
    const auto answer = convert_unit(value.text, dimension.unit);
    if (answer.state == UnitState::known)
        return answer.conversion;
    const auto* const kind = answer.state == UnitState::unknown ? "unknown unit" : "unit";
    reading.fault(value, fmt::format("found {} {} for \"{}\"", kind, diagnostics::quoted(value.text), name),
                  unit_examples(dimension), unit_advice(value.text, dimension));
    return std::nullopt;
}

namespace {

/// What every quantity has: its number and its unit, as far as they could be read.
struct Magnitude {
    std::optional<double> number;
    const JsonValue* unit = nullptr;
    std::optional<Conversion> conversion;
};

Magnitude read_magnitude(const JsonReading& reading, ObjectReader& reader, std::string_view name,
                         const Dimension& dimension)
{
    Magnitude magnitude;
    magnitude.number = reader.required_number("value");
    magnitude.unit = reader.require("unit", fmt::format("\"{}\"", dimension.unit));
    if (magnitude.unit != nullptr)
        magnitude.conversion = read_unit(reading, *magnitude.unit, name, dimension);
    return magnitude;
}

}  // namespace

std::optional<model::Quantity> read_quantity(const JsonReading& reading, const JsonValue& value,
                                             std::string_view name, const Dimension& dimension, Range range)
{
    if (!check_is_quantity(reading, value, name, dimension))
        return std::nullopt;
    ObjectReader reader(reading, &value, fmt::format("quantity \"{}\"", name));
    const auto [number, unit, conversion] = read_magnitude(reading, reader, name, dimension);
    model::Quantity quantity;
    const auto convert = conversion.value_or(Conversion{});
    read_uncertainty(reader, convert, quantity);
    quantity.note = reader.text("note");
    reader.finish();
    if (!number || !conversion || !check_range(reading, *value.find("value"), *number, name, range))
        return std::nullopt;
    quantity.value = convert(*number);
    quantity.unit = std::string(dimension.unit);
    quantity.written_value = *number;
    quantity.written_unit = unit->text;
    return quantity;
}

std::optional<double> read_plain_quantity(const JsonReading& reading, const JsonValue& value,
                                          std::string_view name, const Dimension& dimension, Range range)
{
    if (!check_is_quantity(reading, value, name, dimension))
        return std::nullopt;
    ObjectReader reader(reading, &value, fmt::format("quantity \"{}\"", name));
    const auto magnitude = read_magnitude(reading, reader, name, dimension);
    for (const auto* key :
         {"standard_uncertainty", "expanded_uncertainty", "half_width", "coverage_factor"}) {
        if (reader.find(key) != nullptr)
            reading.fault(*reader.find(key), fmt::format("found \"{}\" in \"{}\"", key, name),
                          "value and unit alone", "an uncertainty of this quantity enters no result");
    }
    (void)reader.text("note");
    reader.finish();
    if (!magnitude.number || !magnitude.conversion ||
        !check_range(reading, *value.find("value"), *magnitude.number, name, range))
        return std::nullopt;
    return (*magnitude.conversion)(*magnitude.number);
}

std::optional<model::ConditionQuantity> read_free_quantity(const JsonReading& reading, const JsonValue& value,
                                                           std::string_view name)
{
    ObjectReader reader(reading, &value, fmt::format("condition \"{}\"", name));
    const auto number = reader.required_number("value");
    const auto* unit = reader.require("unit", "text");
    (void)reader.text("note");
    reader.finish();
    if (!number || unit == nullptr)
        return std::nullopt;
    const auto canonical = unit->kind == JsonValue::Kind::text ? canonical_unit(unit->text) : std::string();
    if (canonical.empty()) {
        reading.fault(*unit, fmt::format("found unknown unit {} for \"{}\"", reading.describe(*unit), name),
                      "a unit that udunits2 knows");
        return std::nullopt;
    }
    const auto conversion = convert_unit(unit->text, canonical).conversion;
    return model::ConditionQuantity{conversion.is_identity() ? *number : without_noise(conversion(*number)),
                                    canonical};
}

}  // namespace luxdossier::intake
