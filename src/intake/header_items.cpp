// The header's document, product, samples, configurations and equipment.

#include "intake/header.hpp"

#include "diagnostics/diagnostic.hpp"
#include "intake/quantity_reader.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

void read_amendment(ObjectReader& document, model::DocumentInfo& info)
{
    auto reader = document.object("amends", "amends");
    if (!reader.is_object())
        return;
    model::Amendment amendment;
    amendment.number = reader.required_text("number");
    amendment.revision = reader.text("revision");
    amendment.reason = reader.required_text("reason");
    reader.finish();
    info.amends = std::move(amendment);
}

/// A condition of the room: a quantity that may also state "limits" {from, to} in its own unit.
model::RoomCondition read_room_condition(ObjectReader& environment, std::string_view key,
                                         const Dimension& dimension)
{
    model::RoomCondition condition;
    const auto* value = environment.find(key);
    if (value == nullptr)
        return condition;
    auto bare = *value;
    std::erase_if(bare.members, [](const JsonMember& member) { return member.key == "limits"; });
    const auto& reading = environment.reading();
    condition.stated = read_quantity(reading, bare, key, dimension);
    const auto* stated_limits = value->find("limits");
    if (stated_limits == nullptr)
        return condition;
    ObjectReader limits(reading, stated_limits, fmt::format("limits of \"{}\"", key));
    const auto from = limits.number("from");
    const auto to = limits.number("to");
    limits.finish();
    if (limits.is_object() && !from && !to)
        reading.fault(*stated_limits,
                      fmt::format("found neither \"from\" nor \"to\" in limits of \"{}\"", key),
                      "at least one of them, in the unit of the quantity");
    if (from && to && *to < *from)
        reading.fault(*limits.find("to"), fmt::format("found \"to\" below \"from\" in limits of \"{}\"", key),
                      fmt::format("a number not below {}", *from));
    if (!condition.stated)
        return condition;
    const auto conversion = convert_unit(condition.stated->written_unit, dimension.unit).conversion;
    condition.from = from ? std::optional(conversion(*from)) : std::nullopt;
    condition.to = to ? std::optional(conversion(*to)) : std::nullopt;
    return condition;
}

void read_environment(ObjectReader& document, model::Environment& environment)
{
    auto reader = document.object("environment", "environment");
    environment.temperature = read_room_condition(reader, "temperature", temperature);
    environment.humidity = read_room_condition(reader, "humidity", ratio);
    const auto& humidity = environment.humidity.stated;
    if (humidity && !(humidity->value >= 0 && humidity->value <= 1))
        reader.reading().fault(*reader.find("humidity")->find("value"),
                               fmt::format("found a relative humidity of {} %", humidity->value * 100),
                               "0 % to 100 %");
    reader.finish();
}

/// A quantity of the product's own reading, in lx or, where the scale is stated, in counts.
std::optional<model::Quantity> read_own_reading(ObjectReader& product, std::string_view key,
                                                std::optional<double>& scale)
{
    const auto* value = product.find(key);
    const auto* unit = value == nullptr ? nullptr : value->find("unit");
    const auto in_counts = unit != nullptr && unit->kind == JsonValue::Kind::text &&
                           convert_unit(unit->text, "1").state == UnitState::known;
    if (!in_counts)
        return product.quantity(key, illuminance, Range::positive);
    auto counts = product.quantity(key, ratio, Range::positive);
    if (!scale) {
        product.reading().fault(
            *unit, fmt::format("found unit {} for \"{}\"", diagnostics::quoted(unit->text), key),
            unit_examples(illuminance), "counts need the product's \"scale\" in lx per count");
        scale = 1.0;  // told once
        return std::nullopt;
    }
    if (!counts)
        return std::nullopt;
    counts->value *= *scale;
    if (counts->standard_uncertainty)
        *counts->standard_uncertainty *= *scale;
    if (counts->half_width)
        *counts->half_width *= *scale;
    counts->unit = "lx";
    return counts;
}

/// A difference of temperatures: a unit with another zero would shift it.
std::optional<model::Quantity> read_difference(ObjectReader& reader, std::string_view key)
{
    const auto* value = reader.find(key);
    const auto* unit = value == nullptr ? nullptr : value->find("unit");
    if (unit != nullptr && unit->kind == JsonValue::Kind::text && unit->text != "K" &&
        convert_unit(unit->text, "K").state == UnitState::known) {
        reader.reading().fault(*unit,
                               fmt::format("found unit {} for \"{}\", a difference of temperatures",
                                           diagnostics::quoted(unit->text), key),
                               "\"K\"");
        return std::nullopt;
    }
    return reader.quantity(key, temperature);
}

}  // namespace

std::span<const std::string_view> source_kinds()
{
    static constexpr std::array<std::string_view, 6> kinds{"led",      "incandescent",  "fluorescent",
                                                           "daylight", "near-infrared", "other"};
    return kinds;
}

void UniqueIds::add(const ObjectReader& reader, const std::string& id)
{
    if (id.empty())
        return;
    if (std::ranges::find(ids_, id) != ids_.end())
        reader.reading().fault(*reader.value().find("id"),
                               fmt::format("found {} id \"{}\" twice", label_, id),
                               "an id of its own for each", "rename one of the two");
    ids_.push_back(id);
}

std::string read_path(const JsonReading& reading, const JsonValue& value)
{
    const auto told = [&](std::string_view why, std::string_view advice) {
        const auto shown =
            value.kind == JsonValue::Kind::text ? diagnostics::quoted(value.text) : reading.describe(value);
        reading.fault(value, fmt::format("found {} {}", why, shown), "the name of a file inside the folder",
                      std::string(advice));
        return std::string();
    };
    if (value.kind != JsonValue::Kind::text)
        return told("a file name that is", "");
    const std::string_view path = value.text;
    if (path.empty() || path.find('\0') != std::string_view::npos)
        return told("as a file name", "");
    if (path.find('\\') != std::string_view::npos)
        return told("a backslash in", "write / between folder and file");
    if (path.front() == '/' || (path.size() > 1 && path[1] == ':'))
        return told("an absolute path", "copy the file into the folder and name it by its relative path");
    for (std::size_t start = 0; start <= path.size();) {
        const auto end = std::min(path.find('/', start), path.size());
        if (path.substr(start, end - start) == "..")
            return told("a path that leaves the folder", "copy the file into the folder");
        start = end + 1;
    }
    return std::string(path);
}

void read_document(ObjectReader& root, model::DocumentInfo& document)
{
    auto reader = root.object("document", "document");
    document.number = reader.text("number");
    document.title = reader.text("title");
    document.revision = reader.text("revision");
    auto customer = reader.object("customer", "customer");
    document.customer.name = customer.text("name");
    document.customer.address = customer.text("address");
    document.customer.contact = customer.text("contact");
    customer.finish();
    auto laboratory = reader.object("laboratory", "laboratory");
    document.laboratory.name = laboratory.text("name");
    document.laboratory.address = laboratory.text("address");
    document.laboratory.accreditation = laboratory.text("accreditation");
    laboratory.finish();
    document.received = reader.date("received");
    document.tested_from = reader.date("tested_from");
    document.tested_to = reader.date("tested_to");
    document.issued = reader.date("issued");
    if (document.tested_from && document.tested_to && *document.tested_to < *document.tested_from)
        reader.reading().fault(*reader.find("tested_to"), "found \"tested_to\" before \"tested_from\"",
                               "a date not before " + model::date_text(*document.tested_from));
    document.method = reader.text("method");
    document.place = reader.text("place");
    document.sampling = reader.text("sampling");
    document.deviations = reader.texts("deviations");
    read_environment(reader, document.environment);
    document.supplied_by_customer = reader.texts("supplied_by_customer");
    read_amendment(reader, document);
    reader.finish();
}

void read_product(ObjectReader& root, model::Product& product)
{
    auto reader = root.object("product", "product");
    product.description = reader.text("description");
    product.scale = reader.number("scale", Range::positive);
    if (reader.find("scale") != nullptr && !product.scale)
        product.scale = 1.0;  // a faulty scale has been told: counts are no further fault
    product.resolution = read_own_reading(reader, "resolution", product.scale);
    product.ceiling = read_own_reading(reader, "ceiling", product.scale);
    product.integration_time = reader.quantity("integration_time", duration, Range::positive);
    product.own_light = reader.boolean("own_light");
    reader.finish();
}

void read_samples(ObjectReader& root, Header& header)
{
    UniqueIds ids("sample");
    for (const auto& item : root.items("samples")) {
        ObjectReader reader(root.reading(), &item, "sample");
        model::Sample sample;
        sample.id = reader.required_id("id");
        sample.description = reader.text("description");
        sample.serial = reader.text("serial");
        sample.firmware = reader.text("firmware");
        sample.condition = reader.text("condition");
        sample.received = reader.text("received");
        reader.finish();
        ids.add(reader, sample.id);
        header.qualification.samples.push_back(std::move(sample));
    }
}

void read_configurations(ObjectReader& root, Header& header)
{
    static constexpr std::array<std::string_view, 2> references{"axis", "peak"};
    UniqueIds ids("configuration");
    for (const auto& item : root.items("configurations")) {
        ObjectReader reader(root.reading(), &item, "configuration");
        model::Configuration configuration;
        configuration.id = reader.required_id("id");
        configuration.description = reader.text("description");
        configuration.applied_factor = reader.number("applied_factor", Range::positive);
        if (const auto* target = reader.find("angular_target")) {
            configuration.target_is_cosine =
                target->kind == JsonValue::Kind::text && target->text == "cosine";
            if (!configuration.target_is_cosine) {
                const auto index = header.qualification.configurations.size();
                header.curves.push_back(
                    {CurveRequest::Kind::angular_target, read_path(root.reading(), *target), target,
                     "angular target of " + configuration.id,
                     [index](model::Qualification& qualification, model::CurveFile curve) {
                         qualification.configurations.at(index).target = std::move(curve);
                     }});
            }
        }
        if (const auto* responsivity = reader.find("relative_responsivity")) {
            const auto index = header.qualification.configurations.size();
            header.curves.push_back(
                {CurveRequest::Kind::responsivity, read_path(root.reading(), *responsivity), responsivity,
                 "responsivity of the product, " + configuration.id,
                 [index](model::Qualification& qualification, model::CurveFile curve) {
                     qualification.configurations.at(index).relative_responsivity = std::move(curve);
                 }});
        }
        configuration.reference_is_peak = reader.choice("angular_reference", references) == 1;
        reader.finish();
        ids.add(reader, configuration.id);
        header.qualification.configurations.push_back(std::move(configuration));
    }
}

void read_equipment(ObjectReader& root, Header& header)
{
    UniqueIds ids("equipment");
    for (const auto& item : root.items("equipment")) {
        ObjectReader reader(root.reading(), &item, "equipment");
        model::Equipment equipment;
        equipment.id = reader.required_id("id");
        equipment.description = reader.text("description");
        equipment.serial = reader.text("serial");
        equipment.certificate = reader.text("certificate");
        equipment.traceable_to = reader.text("traceable_to");
        equipment.checked = reader.date("checked");
        equipment.recall = reader.date("recall");
        equipment.correction_factor = reader.quantity("correction_factor", ratio, Range::positive);
        equipment.temperature_correction = read_difference(reader, "temperature_correction");
        equipment.resolution_w_m2 = reader.plain("resolution", irradiance, Range::positive);
        reader.finish();
        ids.add(reader, equipment.id);
        header.qualification.equipment.push_back(std::move(equipment));
    }
}

}  // namespace luxdossier::intake
