// The header's light sources, geometry, evaluation settings and statements about the data.

#include "intake/header.hpp"

#include "intake/remark_ids.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

/// A whole number not below `least`; a fault and empty where it is none.
std::optional<std::uint64_t> whole_number(const JsonReading& reading, const JsonValue& value,
                                          std::string_view name, double least)
{
    constexpr double exact_integers = 9007199254740992.0;  // 2^53
    if (value.kind == JsonValue::Kind::number && value.number >= least && value.number <= exact_integers &&
        value.number == std::floor(value.number))
        return static_cast<std::uint64_t>(value.number);
    reading.fault(value, fmt::format("found {} for \"{}\"", reading.describe(value), name),
                  fmt::format("a whole number not below {}", least));
    return std::nullopt;
}

/// A whole number of the key, where it is there and within bounds; `counted`: what there are so many of.
std::optional<std::uint64_t> number_within(ObjectReader& reader, const char* key, std::string_view counted,
                                           std::uint32_t least, std::uint64_t most)
{
    const auto* value = reader.find(key);
    if (value == nullptr)
        return std::nullopt;
    const auto number = whole_number(reader.reading(), *value, key, least);
    if (number && *number > most) {
        reader.reading().fault(*value, fmt::format("found {} {}", *number, counted),
                               fmt::format("{} to {}", least, most));
        return std::nullopt;
    }
    return number;
}

void read_monte_carlo(ObjectReader& evaluation, model::EvaluationSettings& settings, bool has_limits)
{
    static constexpr std::array<std::string_view, 2> intervals{"symmetric", "shortest"};
    static constexpr std::array<std::string_view, 2> extents{"all", "judged"};
    auto reader = evaluation.object("monte_carlo", "monte_carlo");
    settings.monte_carlo = reader.boolean("enabled").value_or(settings.monte_carlo);
    if (const auto digits = number_within(reader, "significant_digits", "significant digits", 1, 4))
        settings.significant_digits = static_cast<int>(*digits);
    if (const auto trials = number_within(reader, "most_trials", "trials", 25'000, 100'000'000))
        settings.most_trials = *trials;
    if (has_limits)
        settings.only_judged_trials = reader.choice("results", extents) == 1;
    settings.shortest_interval = reader.choice("interval", intervals) == 1;
    if (const auto* seed = reader.find("seed"))
        settings.seed = whole_number(reader.reading(), *seed, "seed", 0).value_or(settings.seed);
    reader.finish();
}

void read_accepted_remarks(ObjectReader& root, Header& header)
{
    for (const auto& item : root.items("accepted_remarks")) {
        ObjectReader reader(root.reading(), &item, "accepted remark");
        model::AcceptedRemark accepted;
        accepted.remark = reader.required_text("remark");
        accepted.reason = reader.required_text("reason");
        accepted.run = reader.id("run");
        reader.finish();
        if (!accepted.remark.empty() &&
            std::ranges::find(remark_ids(), accepted.remark) == remark_ids().end()) {
            const auto near = diagnostics::nearest(accepted.remark, remark_ids());
            root.reading().fault(*item.find("remark"),
                                 fmt::format("found unknown remark {}", diagnostics::quoted(accepted.remark)),
                                 near.empty() ? "the id of a remark" : fmt::format("\"{}\"", near));
        }
        header.qualification.accepted_remarks.push_back(std::move(accepted));
    }
}

void read_exclusions(ObjectReader& root, Header& header)
{
    for (const auto& item : root.items("exclusions")) {
        ObjectReader reader(root.reading(), &item, "exclusion");
        model::Exclusion exclusion;
        exclusion.run = reader.required_id("run");
        (void)reader.require("rows", "an array of row numbers");
        for (const auto& row : reader.items("rows")) {
            if (const auto number = whole_number(root.reading(), row, "rows", 1))
                exclusion.rows.push_back(static_cast<std::size_t>(*number));
        }
        exclusion.reason = reader.required_text("reason");
        reader.finish();
        header.exclusions.push_back(&item);
        header.qualification.exclusions.push_back(std::move(exclusion));
    }
}

}  // namespace

std::span<const std::string_view> remark_ids()
{
    static constexpr auto ids = std::to_array<std::string_view>(
        {"ambient-light", "own-light", "dark-missing", "dark-moved", "dark-of-another", "not-co-located",
         "uneven-field", "not-warmed-up", "not-settled", "trend", "ripple", "certificate-recall-passed",
         "outside-span", "chain-incomplete", "all-common", "left-out", "spectral-mismatch", "few-readings",
         "saturated", "coarse-resolution", "coarse-scan", "zero-angle", "stray-light", "wide-source",
         "too-near", "meter-temperature", "alike-neighbours", "outlier", "few-samples", "near-infrared-leak",
         "window-differs", "competing-set", "range-not-covered", "limits-after-data", "out-of-recall",
         "nominal-differs", "join-doubtful", "comment-row", "environment-missing",
         // raised while readings are summarised
         "ambient-unstated", "incomplete-rows", "not-pooled", "resolution-from-data",
         // raised while models are evaluated
         "second-order", "stated-units", "no-variance", "undefined-trials", "digits-not-reached"});
    return ids;
}

void read_sources(ObjectReader& root, Header& header)
{
    static constexpr std::array<std::string_view, 3> supplies{"dc", "mains", "pwm"};
    static constexpr std::array<std::string_view, 4> risk_groups{"exempt", "RG1", "RG2", "RG3"};
    UniqueIds ids("source");
    for (const auto& item : root.items("sources")) {
        ObjectReader reader(root.reading(), &item, "source");
        model::Source source;
        source.id = reader.required_id("id");
        source.kind =
            static_cast<model::SourceKind>(reader.required_choice("kind", source_kinds()).value_or(0));
        source.description = reader.text("description");
        if (const auto supply = reader.choice("supply", supplies))
            source.supply = supplies.at(*supply);
        source.supply_frequency_hz = reader.plain("supply_frequency", rate_per_second, Range::positive);
        source.level_method = reader.text("level_method");
        if (const auto group = reader.choice("risk_group", risk_groups))
            source.risk_group = risk_groups.at(*group);
        if (const auto* spectrum = reader.find("spectrum")) {
            const auto index = header.qualification.sources.size();
            header.curves.push_back({CurveRequest::Kind::spectrum, read_path(root.reading(), *spectrum),
                                     spectrum, "spectrum of " + source.id,
                                     [index](model::Qualification& qualification, model::CurveFile curve) {
                                         qualification.sources.at(index).spectrum = std::move(curve);
                                     }});
        }
        source.spectral_correction = reader.quantity("spectral_correction", ratio, Range::positive);
        source.settling_tolerance = reader.plain("settling_tolerance", ratio, Range::positive);
        source.drift = reader.plain("drift", ratio, Range::not_negative);
        reader.finish();
        ids.add(reader, source.id);
        header.qualification.sources.push_back(std::move(source));
    }
}

void read_geometry(ObjectReader& root, model::Geometry& geometry)
{
    auto reader = root.object("geometry", "geometry");
    geometry.distance = reader.quantity("distance", length, Range::positive);
    geometry.plane_offset = reader.quantity("plane_offset", length);
    geometry.source_diameter = reader.quantity("source_diameter", length, Range::not_negative);
    geometry.sensor_diameter = reader.quantity("sensor_diameter", length, Range::not_negative);
    geometry.eccentricity = reader.quantity("eccentricity", length);
    geometry.stage_zero = reader.quantity("stage_zero", plane_angle);
    geometry.stage_scale = reader.quantity("stage_scale", ratio);
    reader.finish();
}

void read_evaluation(ObjectReader& root, model::EvaluationSettings& settings, bool has_limits)
{
    auto reader = root.object("evaluation", "evaluation");
    settings.coverage_probability =
        reader.number("coverage_probability", Range::open_unit).value_or(settings.coverage_probability);
    settings.settling_window_s = reader.plain("settling_window", duration, Range::positive);
    settings.ripple_error = reader.plain("ripple_error", ratio, Range::positive);
    read_monte_carlo(reader, settings, has_limits);
    reader.finish();
}

void read_corrections(ObjectReader& root, Header& header)
{
    static constexpr std::array<std::string_view, 2> forms{"gain", "gain-and-offset"};
    static constexpr std::array<std::string_view, 2> scopes{"fleet", "sample"};
    UniqueIds ids("correction");
    const auto* configurations = root.find("configurations");
    for (const auto& item : root.items("corrections")) {
        ObjectReader reader(root.reading(), &item, "correction");
        model::CorrectionRequest correction;
        correction.id = reader.required_id("id");
        correction.configuration =
            configurations == nullptr ? reader.id("configuration") : reader.required_id("configuration");
        correction.with_offset = reader.required_choice("form", forms) == 1;
        correction.per_sample = reader.choice("scope", scopes) == 1;
        correction.per_source = reader.boolean("per_source").value_or(false);
        correction.lowest_lx = reader.plain("lowest_level", illuminance, Range::positive);
        correction.highest_lx = reader.plain("highest_level", illuminance, Range::positive);
        if (correction.lowest_lx && correction.highest_lx &&
            !(*correction.lowest_lx <= *correction.highest_lx))
            root.reading().fault(*reader.find("highest_level"),
                                 "found \"highest_level\" below \"lowest_level\"",
                                 "a level not below the lowest");
        reader.finish();
        ids.add(reader, correction.id);
        header.qualification.corrections.push_back(std::move(correction));
    }
}

void read_statements(ObjectReader& root, Header& header)
{
    auto& qualification = header.qualification;
    read_accepted_remarks(root, header);
    read_exclusions(root, header);
    for (const auto& item : root.items("concessions")) {
        ObjectReader reader(root.reading(), &item, "concession");
        qualification.concessions.push_back(
            {reader.required_text("reference"), reader.text("applies_to"), reader.required_text("text")});
        reader.finish();
    }
    for (const auto& item : root.items("opinions")) {
        ObjectReader reader(root.reading(), &item, "opinion");
        qualification.opinions.push_back(
            {reader.required_text("by_role"), reader.text("basis"), reader.required_text("text")});
        reader.finish();
    }
    for (const auto& item : root.items("sign_off")) {
        ObjectReader reader(root.reading(), &item, "sign-off");
        qualification.sign_off.push_back(
            {reader.required_text("role"), reader.text("name"), reader.text("function")});
        reader.finish();
    }
}

}  // namespace luxdossier::intake
