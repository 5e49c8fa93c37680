#include "record/record.hpp"

#include "record/json_writer.hpp"
#include "uncertainty/propagation.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace luxdossier::record {
namespace {

using model::Result;

std::string condition_text(const Result& result, const std::string& name)
{
    const auto found = result.conditions.find(name);
    const auto* text = found == result.conditions.end() ? nullptr : std::get_if<std::string>(&found->second);
    return text == nullptr ? std::string{} : *text;
}

void write_quantity(JsonWriter& json, std::string_view key, const Result* result)
{
    if (result == nullptr || !result->value || !result->undecided.empty()) {
        json.null(key);
        return;
    }
    json.begin_object(key).number("value", *result->value).text("unit", result->unit);
    if (result->combined) {
        json.number("standard_uncertainty", result->combined->standard_uncertainty);
        json.number("expanded_uncertainty", result->combined->expanded_uncertainty);
        json.number("coverage_factor", result->combined->coverage_factor);
    }
    json.end_object();
}

/// What the readings that the fit has not seen say of one entry.
struct Remaining {
    std::vector<const Result*> errors;  ///< decided
    const Result* greatest = nullptr;
    double lowest_lx = 0, highest_lx = 0;
    std::uint64_t undecided = 0;
};

Remaining remaining_of(const model::Evaluation& evaluation, const Result& gain)
{
    Remaining remaining;
    const auto id = condition_text(gain, "correction"), source = condition_text(gain, "source");
    for (const auto& result : evaluation.results) {
        if (result.metric != "remaining_error" || condition_text(result, "correction") != id ||
            (!gain.sample.empty() && result.sample != gain.sample) ||
            (!source.empty() && condition_text(result, "source") != source))
            continue;
        if (!result.undecided.empty() || !result.value) {
            ++remaining.undecided;
            continue;
        }
        if (remaining.greatest == nullptr || std::abs(*result.value) > std::abs(*remaining.greatest->value))
            remaining.greatest = &result;
        if (const auto at = result.illuminance_lx) {
            remaining.lowest_lx = remaining.errors.empty() ? *at : std::min(remaining.lowest_lx, *at);
            remaining.highest_lx = std::max(remaining.highest_lx, *at);
        }
        remaining.errors.push_back(&result);
    }
    return remaining;
}

void write_remaining(JsonWriter& json, const Remaining& remaining)
{
    json.begin_object("remaining_error");
    write_quantity(json, "greatest", remaining.greatest);
    json.text_or_null("result", remaining.greatest == nullptr ? std::string{} : remaining.greatest->id);
    if (!remaining.errors.empty()) {
        json.begin_object("illuminance").number("lowest", remaining.lowest_lx);
        json.number("highest", remaining.highest_lx).text("unit", "lx").end_object();
    } else {
        json.null("illuminance");
    }
    json.integer("decided", remaining.errors.size()).integer("not_decided", remaining.undecided);
    json.begin_list("errors");
    for (const auto* error : remaining.errors) {
        json.begin_object().text("result", error->id).text_or_null("sample", error->sample);
        json.number("illuminance", error->illuminance_lx).number("value", *error->value);
        json.number("expanded_uncertainty",
                    error->combined ? std::optional(error->combined->expanded_uncertainty) : std::nullopt);
        json.end_object();
    }
    json.end_list().end_object();
}

const Result* offset_of(const model::Evaluation& evaluation, const Result& gain)
{
    const auto found = std::ranges::find_if(evaluation.results, [&](const Result& result) {
        return result.metric == "correction_offset" && result.sample == gain.sample &&
               result.conditions == gain.conditions;
    });
    return found == evaluation.results.end() ? nullptr : &*found;
}

void write_entry(JsonWriter& json, const model::Evaluation& evaluation, const Result& gain, bool with_offset)
{
    const auto* offset = with_offset ? offset_of(evaluation, gain) : nullptr;
    json.begin_object().text_or_null("sample", gain.sample);
    json.text_or_null("source", condition_text(gain, "source"));
    write_quantity(json, "gain", &gain);
    write_quantity(json, "offset", offset);
    if (offset != nullptr && offset->node && gain.node)
        json.number("covariance_lx", uncertainty::covariance(evaluation.graph, *gain.node, *offset->node));
    else
        json.null("covariance_lx");
    json.text_or_null("reason", gain.undecided);
    write_remaining(json, remaining_of(evaluation, gain));
    json.end_object();
}

}  // namespace

std::string write_corrections(const model::Dossier& dossier)
{
    const auto& qualification = dossier.qualification;
    JsonWriter json;
    json.begin_object().text("format", "luxdossier/correction/1");
    json.begin_object("program").text("name", "luxdossier").text("version", dossier.version).end_object();
    json.begin_object("document").text_or_null("number", qualification.document.number);
    json.text_or_null("revision", qualification.document.revision).end_object();
    json.text("equation", "corrected = offset + gain * reading, in lx; without offset: gain * reading");
    json.begin_list("corrections");
    for (const auto& request : qualification.corrections) {
        json.begin_object().text("id", request.id);
        json.text_or_null("configuration", request.configuration);
        json.text("form", request.with_offset ? "gain-and-offset" : "gain");
        json.text("scope", request.per_sample ? "sample" : "fleet").boolean("per_source", request.per_source);
        json.begin_list("entries");
        for (const auto& result : dossier.evaluation.results)
            if (result.metric == "correction_gain" && condition_text(result, "correction") == request.id)
                write_entry(json, dossier.evaluation, result, request.with_offset);
        json.end_list().end_object();
    }
    json.end_list().end_object();
    return json.take();
}

}  // namespace luxdossier::record
