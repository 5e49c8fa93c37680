// The header's reference meters with their certificates.

#include "intake/header.hpp"

#include "intake/quantity_reader.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

/// The reading that a calibration point states, as a correction factor C = illuminance/indication.
std::optional<double> read_correction(ObjectReader& reader, double illuminance_lx)
{
    const auto factor = reader.number("correction_factor", Range::positive);
    const auto indication_lx = reader.plain("indication", illuminance, Range::positive);
    const auto error_lx = reader.plain("error", illuminance);  // indication - illuminance
    const auto& point = reader.value();
    int stated = 0;
    for (const auto* key : {"correction_factor", "indication", "error"})
        stated += point.find(key) != nullptr ? 1 : 0;
    if (stated != 1) {
        reader.reading().fault(
            point,
            fmt::format("found {} of \"correction_factor\", \"indication\" and \"error\" in {}",
                        stated == 0 ? "none" : fmt::format("{}", stated), reader.label()),
            "exactly one of them");
        return std::nullopt;
    }
    if (factor)
        return factor;
    if (indication_lx)
        return illuminance_lx / *indication_lx;
    if (!error_lx)
        return std::nullopt;
    if (illuminance_lx + *error_lx <= 0) {
        reader.reading().fault(*point.find("error"), "found an error that leaves no indication",
                               "indication - illuminance, above the negative illuminance");
        return std::nullopt;
    }
    return illuminance_lx / (illuminance_lx + *error_lx);
}

/// Expanded uncertainty stated in % or in lx, as a fraction of the illuminance.
std::optional<double> read_relative_expanded(ObjectReader& reader, double illuminance_lx)
{
    const auto* value = reader.require("expanded_uncertainty", "{\"value\": ..., \"unit\": \"%\"}");
    if (value == nullptr)
        return std::nullopt;
    const auto* unit = value->find("unit");
    const auto in_lx = unit != nullptr && unit->kind == JsonValue::Kind::text &&
                       convert_unit(unit->text, illuminance.unit).state == UnitState::known;
    const auto stated =
        reader.plain("expanded_uncertainty", in_lx ? illuminance : ratio, Range::not_negative);
    return stated ? std::optional(in_lx ? *stated / illuminance_lx : *stated) : std::nullopt;
}

std::string_view as_written(const JsonReading& reading, const JsonValue* value)
{
    return value == nullptr ? std::string_view() : reading.source.text().substr(value->offset, value->length);
}

/// "indication 10.04 lx, U 1.2 %": the point in the certificate's own figures.
std::string written_point(const JsonReading& reading, const JsonValue& point)
{
    std::string text;
    for (const auto* key : {"correction_factor", "indication", "error", "expanded_uncertainty"}) {
        const auto* value = point.find(key);
        if (value == nullptr)
            continue;
        std::string name(key == std::string_view("expanded_uncertainty") ? "U" : key);
        std::ranges::replace(name, '_', ' ');
        text += text.empty() ? "" : ", ";
        if (value->kind == JsonValue::Kind::number)
            text += fmt::format("{} {}", name, as_written(reading, value));
        else if (value->find("unit") != nullptr)
            text += fmt::format("{} {} {}", name, as_written(reading, value->find("value")),
                                value->find("unit")->text);
    }
    return text;
}

void read_points(ObjectReader& certificate, model::Certificate& read)
{
    const auto& reading = certificate.reading();
    const auto* list = certificate.require("points", "an array of calibration points");
    for (const auto& item : certificate.items("points")) {
        ObjectReader reader(reading, &item, "calibration point");
        model::CalibrationPoint point;
        const auto illuminance_lx = reader.required_plain("illuminance", illuminance, Range::positive);
        point.illuminance_lx = illuminance_lx.value_or(1.0);
        if (!reader.is_object())
            continue;
        point.correction_factor = read_correction(reader, point.illuminance_lx).value_or(1.0);
        point.relative_expanded_uncertainty =
            read_relative_expanded(reader, point.illuminance_lx).value_or(0.0);
        reader.finish();
        point.written = written_point(reading, item);
        const auto same = [&](const model::CalibrationPoint& other) {
            return other.illuminance_lx == point.illuminance_lx;
        };
        if (illuminance_lx && std::ranges::any_of(read.points, same))
            reading.fault(*item.find("illuminance"), "found two calibration points at one illuminance",
                          "one point for each illuminance");
        read.points.push_back(std::move(point));
    }
    if (list != nullptr && list->kind == JsonValue::Kind::array && list->items.empty())
        reading.fault(*list, "found no calibration point", "at least one");
    std::ranges::sort(read.points, {}, &model::CalibrationPoint::illuminance_lx);
}

void check_common_part(ObjectReader& certificate, const model::Certificate& read)
{
    if (!read.common_relative_expanded_uncertainty)
        return;
    const auto larger = *read.common_relative_expanded_uncertainty;
    const auto smallest =
        std::ranges::min_element(read.points, {}, &model::CalibrationPoint::relative_expanded_uncertainty);
    if (smallest != read.points.end() && larger > smallest->relative_expanded_uncertainty * (1 + 1e-9))
        certificate.reading().fault(
            *certificate.find("common_expanded_uncertainty"),
            "found a common part of the uncertainty above that of a calibration point",
            fmt::format("at most {:.6g} %", smallest->relative_expanded_uncertainty * 100),
            "the common part is contained in each point's uncertainty");
}

std::optional<model::Certificate> read_certificate(ObjectReader& meter)
{
    auto reader = meter.object("certificate", "certificate");
    if (!reader.is_object())
        return std::nullopt;
    model::Certificate read;
    read.number = reader.required_text("number");
    read.laboratory = reader.text("laboratory");
    read.accreditation = reader.text("accreditation");
    read.issued = reader.required_date("issued").value_or(model::Date{});
    read.recall = reader.date("recall");
    read.traceable_to = reader.text("traceable_to");
    auto source = reader.object("calibration_source", "calibration_source");
    if (const auto kind = source.choice("kind", source_kinds()))
        read.calibration_source_kind = source_kinds()[*kind];
    read.calibration_colour_temperature_k = source.plain("colour_temperature", temperature, Range::positive);
    source.finish();
    if (const auto at_k = reader.plain("temperature", temperature)) {
        read.temperature.emplace().value = *at_k;
        read.temperature->unit = "K";
    }
    read.coverage_factor = reader.required_number("coverage_factor", Range::positive).value_or(2.0);
    read.coverage_probability = reader.number("coverage_probability", Range::open_unit);
    read_points(reader, read);
    read.common_relative_expanded_uncertainty =
        reader.plain("common_expanded_uncertainty", ratio, Range::not_negative);
    check_common_part(reader, read);
    reader.finish();
    return read;
}

void read_resolution(ObjectReader& reader, model::Meter& meter)
{
    meter.resolution_lx = reader.plain("resolution", illuminance, Range::positive);
    const auto* ranges = reader.find("ranges");
    for (const auto& item : reader.items("ranges")) {
        ObjectReader range(reader.reading(), &item, "meter range");
        const auto up_to = range.required_plain("up_to", illuminance, Range::positive);
        const auto resolution = range.required_plain("resolution", illuminance, Range::positive);
        range.finish();
        if (!up_to || !resolution)
            continue;
        if (std::ranges::find(meter.ranges, *up_to, &model::MeterRange::up_to_lx) != meter.ranges.end())
            reader.reading().fault(*item.find("up_to"), "found two meter ranges with one end",
                                   "an end of its own for each");
        meter.ranges.push_back({*up_to, *resolution});
    }
    std::ranges::sort(meter.ranges, {}, &model::MeterRange::up_to_lx);
    if (ranges != nullptr && reader.find("resolution") != nullptr)
        reader.reading().fault(*ranges, "found both \"resolution\" and \"ranges\" in meter", "one of them",
                               "each range states its own resolution");
}

/// The limits of the stated class stand in for characteristics that nothing else states.
void read_class(ObjectReader& meter_reader, model::Meter& meter)
{
    auto reader = meter_reader.object("class", "class");
    if (!reader.is_object())
        return;
    meter.class_standard = reader.required_text("standard");
    meter.class_name = reader.required_text("class");
    auto limits = reader.object("limits", "class limits");
    const auto fill = [&](std::string_view key, const Dimension& dimension,
                          std::optional<double>& characteristic) {
        const auto limit = limits.plain(key, dimension, Range::not_negative);
        if (limit && !characteristic) {
            characteristic = limit;
            meter.from_class.emplace_back(key);
        }
    };
    fill("annual_drift", drift_rate, meter.annual_drift_per_year);
    fill("linearity", ratio, meter.linearity);
    fill("range_change", ratio, meter.range_change);
    fill("mismatch_index", ratio, meter.mismatch_index);
    fill("directional_index", ratio, meter.directional_index);
    const auto coefficient = limits.plain("temperature_coefficient", temperature_rate, Range::not_negative);
    if (coefficient && !meter.temperature_coefficient) {
        model::Quantity quantity;
        quantity.unit = "1/K";
        quantity.half_width = coefficient;
        quantity.standard_uncertainty = *coefficient / std::sqrt(3.0);
        quantity.distribution = uncertainty::Distribution::rectangular;
        quantity.note = "class limit";
        quantity.written_value = 0;
        quantity.written_unit = "1/K";
        meter.temperature_coefficient = std::move(quantity);
        meter.from_class.emplace_back("temperature_coefficient");
    }
    limits.finish();
    reader.finish();
}

/// Intermediate checks (ISO/IEC 17025:2017, 6.4.10), in the order of their dates.
std::vector<model::IntermediateCheck> read_checks(ObjectReader& meter)
{
    std::vector<model::IntermediateCheck> checks;
    for (const auto& item : meter.items("checks")) {
        ObjectReader reader(meter.reading(), &item, "check");
        model::IntermediateCheck check;
        check.date = reader.required_date("date").value_or(model::Date{});
        check.found = reader.required_text("found");
        check.by = reader.text("by");
        reader.finish();
        checks.push_back(std::move(check));
    }
    std::ranges::stable_sort(checks, {}, &model::IntermediateCheck::date);
    return checks;
}

model::Meter read_meter(ObjectReader& reader, Header& header)
{
    model::Meter meter;
    meter.id = reader.required_id("id");
    meter.description = reader.text("description");
    meter.serial = reader.text("serial");
    read_resolution(reader, meter);
    meter.certificate = read_certificate(reader);
    meter.annual_drift_per_year = reader.plain("annual_drift", drift_rate, Range::not_negative);
    meter.linearity = reader.plain("linearity", ratio, Range::not_negative);
    meter.range_change = reader.plain("range_change", ratio, Range::not_negative);
    meter.mismatch_index = reader.plain("mismatch_index", ratio, Range::not_negative);
    meter.directional_index = reader.plain("directional_index", ratio, Range::not_negative);
    meter.temperature_coefficient = reader.quantity("temperature_coefficient", temperature_rate);
    if (const auto* responsivity = reader.find("relative_responsivity")) {
        const auto index = header.qualification.meters.size();
        header.curves.push_back({CurveRequest::Kind::responsivity, read_path(reader.reading(), *responsivity),
                                 responsivity, "relative responsivity of " + meter.id,
                                 [index](model::Qualification& qualification, model::CurveFile curve) {
                                     qualification.meters.at(index).relative_responsivity = std::move(curve);
                                 }});
    }
    auto outside = reader.object("outside_span", "outside_span");
    if (outside.is_object()) {
        model::OutsideSpan span;
        span.linearity_half_width =
            outside.required_plain("linearity", ratio, Range::not_negative).value_or(0.0);
        span.evidence = outside.required_text("evidence");
        outside.finish();
        meter.outside_span = std::move(span);
    }
    read_class(reader, meter);
    meter.checks = read_checks(reader);
    reader.finish();
    return meter;
}

}  // namespace

void read_meters(ObjectReader& root, Header& header)
{
    UniqueIds ids("meter");
    for (const auto& item : root.items("meters")) {
        ObjectReader reader(root.reading(), &item, "meter");
        auto meter = read_meter(reader, header);
        ids.add(reader, meter.id);
        header.qualification.meters.push_back(std::move(meter));
    }
}

}  // namespace luxdossier::intake
