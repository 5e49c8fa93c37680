#include "record/record.hpp"

#include "record/json_writer.hpp"
#include "record/parts.hpp"

namespace luxdossier::record {

namespace {

void write_record(JsonWriter& json, const model::Dossier& dossier)
{
    json.begin_object();
    json.text("format", "luxdossier/record/1");
    write_origin(json, dossier);
    write_laboratory(json, dossier);
    write_run_files(json, dossier);
    write_results(json, dossier);
    write_input_quantities(json, dossier);
    write_groups(json, dossier);
    write_specification(json, dossier);
    write_remarks(json, dossier);
    write_decisions(json, dossier);
    json.end_object();
}

}  // namespace

std::string write_record(const model::Dossier& dossier)
{
    JsonWriter json;
    write_record(json, dossier);
    return json.take();
}

void write_record(const model::Dossier& dossier, const std::function<void(std::string_view)>& sink)
{
    JsonWriter json(sink);
    write_record(json, dossier);
    json.finish();
}

std::string write_verdicts(const model::Dossier& dossier)
{
    JsonWriter json;
    json.begin_object();
    json.text("format", "luxdossier/verdicts/1");
    write_specification(json, dossier);
    write_decisions(json, dossier);
    json.end_object();
    return json.take();
}

std::string write_budget(const model::Dossier& dossier)
{
    JsonWriter json;
    json.begin_object();
    json.text("format", "luxdossier/budget/1");
    write_results(json, dossier);
    write_input_quantities(json, dossier);
    write_groups(json, dossier);
    write_remarks(json, dossier);
    json.end_object();
    return json.take();
}

std::string write_check(std::span<const diagnostics::Diagnostic> faults, const model::Dossier& dossier)
{
    JsonWriter json;
    json.begin_object();
    json.text("format", "luxdossier/check/1");
    json.begin_list("faults");
    for (const auto& fault : faults) {
        json.begin_object().text("file", fault.location.file).integer("line", fault.location.line);
        json.integer("column", fault.location.column).text_or_null("pointer", fault.location.pointer);
        json.text("severity", fault.severity == diagnostics::Severity::error ? "error" : "warning");
        json.text("found", fault.found).text_or_null("expected", fault.expected);
        json.text_or_null("advice", fault.advice).end_object();
    }
    json.end_list();
    write_run_files(json, dossier);
    write_remarks(json, dossier);
    json.end_object();
    return json.take();
}

}  // namespace luxdossier::record
