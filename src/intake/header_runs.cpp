// The header's runs with their defaults.

#include "intake/header.hpp"

#include "intake/dates.hpp"
#include "intake/run_columns.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr std::array<std::string_view, 8> run_kinds{"dark",    "comparison", "position",      "field_map",
                                                    "warm_up", "angular",    "near_infrared", "waveform"};

/// A run with what its kind's defaults add. Keys of the run win; `conditions` and `format` are merged name by
/// name.
JsonValue merged(const JsonValue& run, const JsonValue& defaults)
{
    auto whole = run;
    for (const auto& member : defaults.members) {
        const auto own = std::ranges::find(whole.members, member.key, &JsonMember::key);
        if (own == whole.members.end()) {
            // A run in parts replaces the one file of the defaults, and the reverse.
            const auto is_file = member.key == "file" || member.key == "columns";
            if (!(is_file && run.find("parts") != nullptr) &&
                !(member.key == "parts" && run.find("file") != nullptr))
                whole.members.push_back(member);
        } else if ((member.key == "conditions" || member.key == "format") &&
                   own->value.kind == JsonValue::Kind::object &&
                   member.value.kind == JsonValue::Kind::object) {
            own->value = merged(own->value, member.value);
        }
    }
    return whole;
}

/// The format that an object states, over one that holds where it says nothing.
CsvFormat read_format(ObjectReader& owner, CsvFormat format = {})
{
    static constexpr std::array<std::string_view, 4> delimiters{",", ";", "\t", "|"};
    static constexpr std::array<std::string_view, 2> decimals{".", ","};
    static constexpr std::array<std::string_view, 5> encodings{"utf-8", "utf-16", "utf-16le", "utf-16be",
                                                               "latin-1"};
    auto reader = owner.object("format", "format");
    if (const auto* delimiter = reader.find("delimiter")) {
        const auto found = delimiter->kind == JsonValue::Kind::text
                               ? std::ranges::find(delimiters, delimiter->text)
                               : delimiters.end();
        if (found != delimiters.end())
            format.delimiter = found->front();
        else
            reader.reading().fault(
                *delimiter, fmt::format("found {} for \"delimiter\"", reader.reading().describe(*delimiter)),
                "\",\", \";\", \"\\t\" (tab) or \"|\"");
    }
    if (const auto decimal = reader.choice("decimal", decimals))
        format.decimal = decimals.at(*decimal).front();
    if (const auto encoding = reader.choice("encoding", encodings))
        format.encoding = static_cast<Encoding>(*encoding);
    if (auto skip_to = reader.optional_text("skip_to"))
        format.skip_to = std::move(*skip_to);
    format.clock_offset_s = reader.plain("clock_offset", duration).value_or(format.clock_offset_s);
    if (reader.is_object() && format.delimiter == ',' && format.decimal == ',') {
        const auto* at =
            reader.find("decimal") != nullptr ? reader.find("decimal") : reader.find("delimiter");
        reader.reading().fault(*at, "found a comma both as delimiter and as decimal mark",
                               "two different signs");
        format.delimiter.reset();
    }
    reader.finish();
    return format;
}

void read_started(ObjectReader& reader, model::Run& run)
{
    const auto* value = reader.find("started");
    if (value == nullptr)
        return;
    const auto is_text = value->kind == JsonValue::Kind::text;
    const auto date = is_text ? parse_date(value->text) : std::nullopt;
    const auto seconds = is_text ? parse_date_time(value->text) : std::nullopt;
    if (date)
        run.started = model::TimePoint{static_cast<double>(date->time_since_epoch().count()) * 86400.0};
    else if (seconds)
        run.started = model::TimePoint{*seconds};
    else
        reader.reading().fault(*value,
                               fmt::format("found {} for \"started\"", reader.reading().describe(*value)),
                               "a date and time such as \"2025-03-10T09:00:00\"");
}

void read_position_runs(ObjectReader& reader, model::Run& run)
{
    const auto* value = reader.find("position_run");
    if (value == nullptr)
        return;
    const auto add = [&](const JsonValue& item) {
        if (auto text = text_of(reader.reading(), item, "position_run"))
            run.position_runs.push_back(std::move(*text));
    };
    if (value->kind == JsonValue::Kind::array)
        std::ranges::for_each(value->items, add);
    else
        add(*value);
}

std::vector<RunPart> read_parts(ObjectReader& reader, model::RunKind kind, std::optional<double>& scale)
{
    const auto& reading = reader.reading();
    const auto format = read_format(reader);
    std::vector<RunPart> parts;
    const auto* list = reader.find("parts");
    if (list != nullptr && (reader.find("file") != nullptr || reader.find("columns") != nullptr)) {
        reading.fault(*list, "found \"parts\" beside \"file\" or \"columns\" in run",
                      "either parts or one file", "each part names its own file and columns");
        return parts;
    }
    const auto add = [&](ObjectReader& part) {
        RunPart read;
        read.format = list == nullptr ? format : read_format(part, format);
        read.file_at = part.require("file", "the name of a CSV file");
        if (read.file_at != nullptr)
            read.file = read_path(reading, *read.file_at);
        if (const auto* columns = part.require("columns", "an object that maps meanings to headings"))
            read.columns = read_columns(reading, *columns, kind, scale);
        if (const auto* own = part.find("format");
            own != nullptr && read.time() == nullptr && own->find("clock_offset") != nullptr)
            reading.fault(*own->find("clock_offset"),
                          "found \"clock_offset\" beside columns without \"time\"", "a column for \"time\"");
        parts.push_back(std::move(read));
    };
    if (list == nullptr) {
        add(reader);
        return parts;
    }
    for (const auto& item : reader.items("parts")) {
        ObjectReader part(reading, &item, "part");
        if (!part.is_object())
            continue;
        add(part);
        part.finish();
    }
    if (list->kind == JsonValue::Kind::array && list->items.size() < 2)
        reading.fault(*list,
                      fmt::format("found {} in \"parts\"", list->items.empty() ? "nothing" : "one part"),
                      "two parts or more", "a run of one file names it as \"file\" with \"columns\"");
    return parts;
}

/// Columns that the kind needs, in whichever part they stand, and conditions that are stated twice.
void check_columns(const JsonReading& reading, const JsonValue& at, const RunStatement& statement)
{
    const auto kind = statement.run.kind;
    std::vector<std::string_view> seen;
    for (const auto& part : statement.parts) {
        for (const auto& column : part.columns) {
            const auto repeated = std::ranges::find(seen, column.meaning) != seen.end();
            if (repeated && column.meaning != "time")
                reading.fault(*column.at, fmt::format("found \"{}\" in two parts of one run", column.meaning),
                              "each meaning in one part");
            seen.push_back(column.meaning);
            if (column.is_condition && statement.run.conditions.contains(column.meaning))
                reading.fault(
                    *column.at,
                    fmt::format("found \"{}\" both as a column and in \"conditions\"", column.meaning),
                    "one of them");
        }
    }
    const auto has = [&seen](std::string_view meaning) {
        return std::ranges::find(seen, meaning) != seen.end();
    };
    const auto* columns = at.find("columns") != nullptr ? at.find("columns") : at.find("parts");
    const auto missing = [&](std::string_view what, std::string expected) {
        if (columns != nullptr &&
            (columns->kind == JsonValue::Kind::object || columns->kind == JsonValue::Kind::array))
            reading.fault(*columns,
                          fmt::format("found no column for {} in a run of kind \"{}\"", what,
                                      model::run_kind_text(kind)),
                          std::move(expected));
    };
    std::vector<std::string_view> unread;  // columns with a fault of their own, misspelt ones among them
    if (columns != nullptr) {
        for (const auto& member : columns->members) {
            if (!has(member.key))
                unread.push_back(member.key);
        }
    }
    for (const auto& meaning : meanings_of(kind)) {
        const auto named = !diagnostics::nearest(meaning.name, unread).empty();
        if (meaning.required && !has(meaning.name) && !named)
            missing(fmt::format("\"{}\"", meaning.name),
                    fmt::format("\"{}\": {{\"column\": ...}}", meaning.name));
    }
    if (kind == model::RunKind::dark && !has("sensor") && !has("meter"))
        missing("\"sensor\" or \"meter\"", "at least one of them");
    if (kind == model::RunKind::comparison && !has("level") && !statement.run.conditions.contains("level") &&
        (at.find("conditions") == nullptr || at.find("conditions")->find("level") == nullptr))
        missing("\"level\"", "the nominal level as a column or in \"conditions\"");
}

void check_sample_is_stated(const JsonReading& reading, const JsonValue& at, const RunStatement& statement)
{
    const auto kind = statement.run.kind;
    const auto needs_sample = kind == model::RunKind::comparison || kind == model::RunKind::angular ||
                              kind == model::RunKind::near_infrared;
    const auto is_column = std::ranges::any_of(statement.parts, [](const RunPart& part) {
        return std::ranges::find(part.columns, "sample", &ColumnRequest::meaning) != part.columns.end();
    });
    if (needs_sample && !is_column && at.find("sample") == nullptr)
        reading.fault(at,
                      fmt::format("found no \"sample\" in a run of kind \"{}\"", model::run_kind_text(kind)),
                      "\"sample\": an id, or a column for it");
}

void read_run_keys(ObjectReader& reader, RunStatement& statement, std::optional<double>& scale)
{
    static constexpr std::array<std::string_view, 2> methods{"side-by-side", "substitution"};
    static constexpr std::array<std::string_view, 2> ambients{"subtracted", "present"};
    auto& run = statement.run;
    run.sample = reader.id("sample");
    run.configuration = reader.id("configuration");
    run.source = reader.id("source");
    run.meter = reader.id("meter");
    if (const auto method = reader.choice("method", methods))
        run.method = static_cast<model::Method>(*method);
    read_position_runs(reader, run);
    run.dark_run = reader.text("dark_run");
    run.thermometer = reader.id("thermometer");
    run.irradiance_meter = reader.id("irradiance_meter");
    run.visible_source = reader.id("visible_source");
    if (const auto ambient = reader.choice("ambient", ambients))
        run.ambient = static_cast<model::Ambient>(*ambient);
    if (const auto* conditions = reader.find("conditions"))
        read_conditions(reader.reading(), *conditions, run.conditions);
    read_started(reader, run);
    statement.time_ordered = reader.boolean("time_ordered");
    statement.join_within_s = reader.plain("join_within", duration, Range::not_negative);
    statement.parts = read_parts(reader, run.kind, scale);
    if (reader.find("join_within") != nullptr && reader.find("parts") == nullptr)
        reader.reading().fault(*reader.find("join_within"), "found \"join_within\" in a run of one file",
                               "\"parts\" beside it");
}

void read_run(const JsonReading& reading, const JsonValue& item, const JsonValue* defaults_by_kind,
              UniqueIds& ids, Header& header)
{
    ObjectReader own(reading, &item, "run");
    if (!own.is_object())
        return;
    const auto id = own.required_id("id");
    const auto kind = own.required_choice("kind", run_kinds);
    own.finish_required();
    ids.add(own, id);
    if (!kind)
        return;
    const auto* defaults =
        defaults_by_kind == nullptr ? nullptr : defaults_by_kind->find(run_kinds.at(*kind));
    const auto* whole = &item;
    if (defaults != nullptr && defaults->kind == JsonValue::Kind::object)
        whole = &header.merged_runs.emplace_back(merged(item, *defaults));
    RunStatement statement;
    statement.at = whole;
    statement.run.id = id;
    statement.run.kind = static_cast<model::RunKind>(*kind);
    statement.run.location = reading.source.diagnostic(item.offset, item.length, item.pointer).location;
    ObjectReader reader(reading, whole, "run");
    (void)reader.find("id");
    (void)reader.find("kind");
    read_run_keys(reader, statement, header.qualification.product.scale);
    reader.finish();
    check_columns(reading, *whole, statement);
    check_sample_is_stated(reading, *whole, statement);
    header.runs.push_back(std::move(statement));
}

/// Faults of defaults are told with the runs that take them; here those of kinds that no run has.
void check_defaults(ObjectReader& root, const JsonValue& defaults)
{
    const auto& reading = root.reading();
    ObjectReader reader(reading, &defaults, "run_defaults");
    for (const auto kind : run_kinds) {
        auto entry = reader.object(kind, fmt::format("run_defaults of {}", kind));
        if (!entry.is_object())
            continue;
        for (const auto* key : {"id", "kind"}) {
            if (const auto* found = entry.find(key))
                reading.fault(*found, fmt::format("found \"{}\" in {}", key, entry.label()),
                              "keys that runs share");
        }
    }
    reader.finish();
}

}  // namespace

void read_runs(ObjectReader& root, Header& header)
{
    const auto* defaults = root.find("run_defaults");
    if (defaults != nullptr)
        check_defaults(root, *defaults);
    UniqueIds ids("run");
    const auto* list = root.require("runs", "an array of runs");
    for (const auto& item : root.items("runs"))
        read_run(root.reading(), item, defaults, ids, header);
    if (list != nullptr && list->kind == JsonValue::Kind::array && list->items.empty())
        root.reading().fault(*list, "found no run", "at least one",
                             "a qualification without readings has no results");
}

}  // namespace luxdossier::intake
