#include "record/parts.hpp"

#include "uncertainty/formula.hpp"

#include <optional>
#include <variant>
#include <vector>

namespace luxdossier::record {
namespace {

using uncertainty::InputGroup;

std::string_view kind_text(InputGroup::Kind kind)
{
    switch (kind) {
    case InputGroup::Kind::observed_together:
        return "observed together";
    case InputGroup::Kind::pooled:
        return "pooled";
    case InputGroup::Kind::stated:
        return "stated";
    }
    return {};
}

void write_conditions(JsonWriter& json, const model::Conditions& conditions)
{
    json.begin_object("conditions");
    for (const auto& [name, value] : conditions) {
        if (const auto* text = std::get_if<std::string>(&value)) {
            json.text(name, *text);
            continue;
        }
        const auto& quantity = std::get<model::ConditionQuantity>(value);
        json.begin_object(name).number("value", quantity.value).text("unit", quantity.unit).end_object();
    }
    json.end_object();
}

void write_uncertainty(JsonWriter& json, const model::Result& result)
{
    if (!result.combined) {
        for (const auto* key :
             {"standard_uncertainty", "effective_degrees_of_freedom", "coverage_probability",
              "coverage_factor", "expanded_uncertainty", "interval"})
            json.null(key);
        return;
    }
    const auto& combined = *result.combined;
    json.number("standard_uncertainty", combined.standard_uncertainty);
    json.number("effective_degrees_of_freedom", combined.degrees_of_freedom);
    json.number("coverage_probability", combined.coverage_probability);
    json.number("coverage_factor", combined.coverage_factor);
    json.number("expanded_uncertainty", combined.expanded_uncertainty);
    json.begin_list("interval");
    json.number(combined.value - combined.expanded_uncertainty);
    json.number(combined.value + combined.expanded_uncertainty);
    json.end_list();
}

void write_trials(JsonWriter& json, const model::Result& result)
{
    if (!result.monte_carlo) {
        json.null("monte_carlo");
        return;
    }
    const auto& found = *result.monte_carlo;
    json.begin_object("monte_carlo").integer("trials", found.trials).number("mean", found.mean);
    json.number("standard_uncertainty", found.standard_uncertainty);
    if (found.interval) {
        json.begin_list("interval").number(found.interval->lower).number(found.interval->upper);
        json.end_list();
    } else {
        json.null("interval");
    }
    json.text("interval_kind", found.is_shortest ? "shortest" : "symmetric");
    json.number("numerical_tolerance", found.numerical_tolerance);
    json.number("asked_tolerance", found.asked_tolerance).boolean("converged", found.converged);
    json.integer("undefined_trials", found.undefined);
    if (!found.validation) {
        json.null("validated").null("validation");
    } else {
        const auto& validation = *found.validation;
        json.boolean("validated", validation.validated).begin_object("validation").integer("digits", 1);
        json.number("delta", validation.delta).number("d_low", validation.d_low);
        json.number("d_high", validation.d_high);
        json.number("numerical_tolerance", validation.numerical_tolerance);
        json.boolean("tolerance_reached", validation.reached).end_object();
    }
    json.boolean("judged", result.is_judged_by_trials).end_object();
}

/// The identity of every input, quoted once: many budgets name it.
std::vector<JsonWriter::Members> identities_of(const uncertainty::Graph& graph)
{
    std::vector<JsonWriter::Members> all;
    for (const auto& input : graph.inputs())
        all.emplace_back([&](JsonWriter& json) { json.text("input", input.identity); });
    return all;
}

void write_budget(JsonWriter& json, const uncertainty::Budget& budget,
                  const std::vector<JsonWriter::Members>& identities)
{
    for (const auto& line : budget.lines) {
        json.begin_object().members(identities[line.input.index]).number("sensitivity", line.sensitivity);
        json.number("contribution", line.contribution).number("share", line.share).end_object();
    }
}

void write_result(JsonWriter& json, const model::Dossier& dossier, const model::Result& result,
                  const std::vector<JsonWriter::Members>& identities)
{
    const auto& evaluation = dossier.evaluation;
    json.begin_object()
        .text("id", result.id)
        .text("metric", result.metric)
        .text_or_null("sample", result.sample);
    write_conditions(json, result.conditions);
    json.number("value", result.value).text("unit", result.unit).boolean("upper_bound", result.upper_bound);
    json.text_or_null("reason", result.undecided);
    write_uncertainty(json, result);
    write_trials(json, result);
    json.number("evaluated_illuminance", result.illuminance_lx);
    json.begin_list("runs");
    for (const auto run : result.runs)
        json.text(dossier.qualification.runs.at(run).id);
    json.end_list();
    json.begin_list("budget");
    if (result.node && result.combined)
        write_budget(json, evaluation.budget(result), identities);
    json.end_list();
    json.text_or_null("formula", result.node ? uncertainty::printed_formula(evaluation.graph, *result.node)
                                             : std::string{});
    json.end_object();
}

}  // namespace

void write_results(JsonWriter& json, const model::Dossier& dossier)
{
    const auto identities = identities_of(dossier.evaluation.graph);
    json.begin_list("results");
    for (const auto& result : dossier.evaluation.results)
        write_result(json, dossier, result, identities);
    json.end_list();
}

void write_input_quantities(JsonWriter& json, const model::Dossier& dossier)
{
    json.begin_list("input_quantities");
    for (const auto& input : dossier.evaluation.graph.inputs()) {
        json.begin_object().text("input", input.identity).text("quantity", input.quantity);
        json.text("symbol", input.symbol).number("estimate", input.estimate).text("unit", input.unit);
        json.number("standard_uncertainty", input.standard_uncertainty);
        json.text("distribution", uncertainty::distribution_text(input.distribution));
        json.text("evaluation", input.evaluation == uncertainty::Evaluation::type_a ? "A" : "B");
        json.number("degrees_of_freedom", input.degrees_of_freedom);
        if (!input.note.empty())
            json.text("note", input.note);
        json.end_object();
    }
    json.end_list();
}

void write_groups(JsonWriter& json, const model::Dossier& dossier)
{
    const auto& graph = dossier.evaluation.graph;
    json.begin_list("groups");
    for (const auto& group : graph.groups()) {
        json.begin_object().text("identity", group.identity).text("kind", kind_text(group.kind));
        json.number("degrees_of_freedom", group.degrees_of_freedom).begin_list("members");
        for (const auto member : group.members)
            json.text(graph.inputs()[member.index].identity);
        json.end_list().begin_list("covariance");
        const auto size = group.members.size();
        for (std::size_t row = 0; row < size; ++row) {
            json.begin_list();
            for (std::size_t column = 0; column < size; ++column)
                json.number(group.covariance.at(row * size + column));
            json.end_list();
        }
        json.end_list().end_object();
    }
    json.end_list();
}

}  // namespace luxdossier::record
