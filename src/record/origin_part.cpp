#include "record/parts.hpp"

#include <cmath>

#include <fmt/format.h>

namespace luxdossier::record {
namespace {

std::string time_text(model::TimePoint time)
{
    const auto day = std::floor(time.seconds / 86400.0);
    const auto second = static_cast<long>(std::floor(time.seconds - day * 86400.0));
    return fmt::format("{}T{:02}:{:02}:{:02}Z", model::date_text(time.date()), second / 3600,
                       second / 60 % 60, second % 60);
}

}  // namespace

void write_origin(JsonWriter& json, const model::Dossier& dossier)
{
    json.begin_object("program").text("name", "luxdossier").text("version", dossier.version);
    json.text_or_null("platform", dossier.platform).begin_object("libraries");
    for (const auto& [name, version] : dossier.libraries)
        json.text(name, version);
    json.end_object().end_object();
    json.text("date", time_text(dossier.date));
    json.text("template", dossier.template_name);
    json.begin_list("faces");
    for (const auto& [file, sha256] : dossier.faces)
        json.begin_object().text("file", file).text("sha256", sha256).end_object();
    json.end_list();

    const auto& document = dossier.qualification.document;
    json.begin_object("document")
        .text_or_null("number", document.number)
        .text_or_null("title", document.title);
    json.text_or_null("revision", document.revision);
    json.text_or_null("issued", document.issued ? model::date_text(*document.issued) : std::string{});
    json.boolean("draft", dossier.qualification.is_draft()).end_object();

    json.begin_list("inputs");
    for (const auto& file : dossier.qualification.files)
        json.begin_object()
            .text("path", file.path)
            .text("sha256", file.sha256)
            .integer("size", file.size)
            .text("role", file.role)
            .end_object();
    json.end_list();

    json.begin_object("evaluation").number("coverage_probability", dossier.evaluation.coverage_probability);
    if (const auto& trials = dossier.evaluation.trials) {
        json.begin_object("monte_carlo").text("results", trials->only_judged ? "judged" : "all");
        json.integer("seed", trials->seed);
        json.integer("significant_digits", static_cast<std::uint64_t>(trials->significant_digits));
        json.integer("trials_per_block", trials->per_block).integer("most_trials", trials->most).end_object();
    } else {
        json.null("monte_carlo");
    }
    json.end_object();
    json.begin_list("statements");
    for (const auto& statement : dossier.evaluation.statements)
        json.begin_object()
            .text("family", statement.family)
            .text("text", model::statement_text(statement))
            .end_object();
    json.end_list();
}

void write_remarks(JsonWriter& json, const model::Dossier& dossier)
{
    json.begin_list("remarks");
    for (const auto& remark : dossier.remarks) {
        json.begin_object().text("remark", remark.id).text("severity", model::severity_text(remark.severity));
        json.text_or_null("run", remark.run).text("seen", remark.seen).text("effect", remark.effect);
        json.text("advice", remark.advice).text_or_null("accepted", remark.accepted);
        json.begin_list("results");
        for (const auto index : remark.results)
            json.text(dossier.evaluation.results.at(index).id);
        json.end_list().end_object();
    }
    json.end_list();
    json.begin_list("rules_not_applied");
    for (const auto& rule : dossier.rules_not_applied)
        json.text(rule);
    json.end_list();
}

}  // namespace luxdossier::record
