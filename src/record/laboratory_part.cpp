// What ISO/IEC 17025:2017 asks beside results, and how the files of runs were read.

#include "model/deviations.hpp"
#include "record/parts.hpp"

#include <algorithm>

namespace luxdossier::record {
namespace {

std::string date_or_nothing(const std::optional<model::Date>& date)
{
    return date ? model::date_text(*date) : std::string{};
}

void write_room(JsonWriter& json, std::string_view key, const model::RoomCondition& condition)
{
    if (!condition.stated) {
        json.null(key);
        return;
    }
    json.begin_object(key).number("value", condition.stated->value).text("unit", condition.stated->unit);
    json.number("standard_uncertainty", condition.stated->standard_uncertainty);
    json.number("from", condition.from).number("to", condition.to).end_object();
}

}  // namespace

void write_laboratory(JsonWriter& json, const model::Dossier& dossier)
{
    const auto& qualification = dossier.qualification;
    const auto& document = qualification.document;
    json.begin_object("laboratory")
        .text_or_null("place", document.place)
        .text_or_null("sampling", document.sampling);
    json.begin_list("deviations");
    for (const auto& deviation : model::deviations_of(qualification))
        json.text(deviation);
    json.end_list();
    write_room(json, "temperature", document.environment.temperature);
    write_room(json, "humidity", document.environment.humidity);
    json.begin_list("samples");
    for (const auto& sample : qualification.samples)
        json.begin_object().text("sample", sample.id).text_or_null("received", sample.received).end_object();
    json.end_list().begin_list("meter_checks");
    for (const auto& meter : qualification.meters)
        for (const auto& check : meter.checks)
            json.begin_object()
                .text("meter", meter.id)
                .text("date", model::date_text(check.date))
                .text("found", check.found)
                .text_or_null("by", check.by)
                .end_object();
    json.end_list().begin_list("equipment");
    for (const auto& item : qualification.equipment)
        json.begin_object()
            .text("equipment", item.id)
            .text_or_null("certificate", item.certificate)
            .text_or_null("traceable_to", item.traceable_to)
            .text_or_null("checked", date_or_nothing(item.checked))
            .text_or_null("recall", date_or_nothing(item.recall))
            .end_object();
    json.end_list().begin_list("sources");
    for (const auto& source : qualification.sources)
        json.begin_object()
            .text("source", source.id)
            .text_or_null("risk_group", source.risk_group)
            .end_object();
    json.end_list().end_object();
}

void write_run_files(JsonWriter& json, const model::Dossier& dossier)
{
    json.begin_list("run_files");
    for (const auto* run : dossier.qualification.stated_runs()) {
        const bool noteworthy =
            run->files.size() > 1 || std::ranges::any_of(run->files, [](const model::RunFile& file) {
                return !file.comment_lines.empty();
            });
        if (!noteworthy)
            continue;
        json.begin_object()
            .text("run", run->id)
            .text_or_null("words", model::join_words(*run))
            .begin_list("files");
        for (const auto& file : run->files) {
            json.begin_object().text("file", file.file).text_or_null("join", file.join);
            json.integer("matched_rows", file.matched_rows).integer("unmatched_rows", file.unmatched_rows);
            json.number("largest_time_difference_s", file.largest_time_difference_s)
                .begin_list("comment_lines");
            for (const auto line : file.comment_lines)
                json.number(static_cast<double>(line));
            json.end_list().end_object();
        }
        json.end_list().end_object();
    }
    json.end_list();
}

}  // namespace luxdossier::record
