#include "record/parts.hpp"

namespace luxdossier::record {
namespace {

std::string_view rule_key(model::RuleKind kind)
{
    switch (kind) {
    case model::RuleKind::simple_acceptance:
        return "simple-acceptance";
    case model::RuleKind::guarded_acceptance:
        return "guarded-acceptance";
    case model::RuleKind::four_outcome:
        return "four-outcome";
    }
    return {};
}

void write_rule(JsonWriter& json, const model::DecisionRule& rule)
{
    json.begin_object("decision_rule").text("kind", rule_key(rule.kind));
    if (rule.kind == model::RuleKind::simple_acceptance)
        json.null("guard_band_multiple");
    else
        json.number("guard_band_multiple", rule.guard_band_multiple);
    json.end_object();
}

void write_pair(JsonWriter& json, std::string_view key, std::optional<double> lower,
                std::optional<double> upper)
{
    if (!lower && !upper) {
        json.null(key);
        return;
    }
    json.begin_object(key).number("lower", lower).number("upper", upper).end_object();
}

void write_limit(JsonWriter& json, const model::Dossier& dossier, std::size_t index)
{
    const auto& limit = dossier.limits->limits[index];
    json.begin_object().text("id", limit.id).text_or_null("clause", limit.clause);
    json.text_or_null("reference", limit.reference).text_or_null("metric", limit.metric);
    if (limit.not_assessed) {
        json.text("not_assessed", *limit.not_assessed).null("outcome").end_object();
        return;
    }
    write_rule(json, limit.rule.value_or(dossier.limits->rule));
    const auto outcome = dossier.verdicts.by_limit.at(index);
    json.text_or_null("outcome", outcome ? model::outcome_key(*outcome) : std::string_view{}).end_object();
}

void write_improvement(JsonWriter& json, const uncertainty::Graph& graph, const model::Verdict& verdict)
{
    if (!verdict.improvement) {
        json.null("improvement");
        return;
    }
    json.begin_object("improvement").number("factor", verdict.improvement->whole).begin_list("inputs");
    for (const auto& one : verdict.improvement->inputs) {
        json.begin_object().text("input", graph.inputs()[one.input.index].identity);
        json.number("share", one.share).number("factor", one.factor).end_object();
    }
    json.end_list().end_object();
}

void write_verdict(JsonWriter& json, const model::Dossier& dossier, const model::Verdict& verdict)
{
    json.begin_object().text("limit", dossier.limits->limits.at(verdict.limit).id);
    json.text_or_null("result",
                      verdict.result ? dossier.evaluation.results.at(*verdict.result).id : std::string{});
    json.text_or_null("expected", verdict.expected).text("outcome", model::outcome_key(verdict.outcome));
    json.text_or_null("reason", verdict.reason).text_or_null("by_trials", verdict.by_trials);
    json.number("value", verdict.value).text("unit", verdict.unit);
    json.number("expanded_uncertainty", verdict.expanded_uncertainty);
    write_pair(json, "tolerance_limits", verdict.tolerance_lower, verdict.tolerance_upper);
    write_pair(json, "acceptance_limits", verdict.acceptance_lower, verdict.acceptance_upper);
    write_pair(json, "guard_band", verdict.guard_lower, verdict.guard_upper);
    json.number("margin", verdict.margin).number("conformance_probability", verdict.conformance_probability);
    json.number("capability", verdict.capability);
    write_improvement(json, dossier.evaluation.graph, verdict);
    json.end_object();
}

void write_joint(JsonWriter& json, const model::Dossier& dossier)
{
    if (dossier.verdicts.joint.empty()) {
        json.null("joint");
        return;
    }
    const auto& all = dossier.verdicts.joint;
    const auto write = [&](const model::Joint& joint) {
        json.integer("requirements", joint.requirements).number("probability", joint.probability);
        json.number("product", joint.product).integer("trials", joint.trials);
    };
    json.begin_object("joint");
    write(all.back());
    json.begin_list("samples");
    for (std::size_t i = 0; i + 1 < all.size(); ++i) {
        json.begin_object().text_or_null("sample", all[i].sample);
        write(all[i]);
        json.end_object();
    }
    json.end_list().end_object();
}

}  // namespace

void write_specification(JsonWriter& json, const model::Dossier& dossier)
{
    if (!dossier.limits) {
        json.null("specification");
        return;
    }
    const auto& limits = *dossier.limits;
    json.begin_object("specification").text("file", limits.file).text_or_null("title", limits.title);
    json.text_or_null("revision", limits.revision).text_or_null("agreed_with", limits.agreed_with);
    json.text_or_null("agreed_on", limits.agreed_on ? model::date_text(*limits.agreed_on) : std::string{});
    write_rule(json, limits.rule);
    json.begin_list("limits");
    for (std::size_t i = 0; i < limits.limits.size(); ++i)
        write_limit(json, dossier, i);
    json.end_list().end_object();
}

void write_decisions(JsonWriter& json, const model::Dossier& dossier)
{
    json.begin_list("verdicts");
    for (const auto& verdict : dossier.verdicts.verdicts)
        write_verdict(json, dossier, verdict);
    json.end_list();
    write_joint(json, dossier);
    const auto overall = dossier.verdicts.overall;
    json.text_or_null("overall", overall ? model::outcome_key(*overall) : std::string_view{});
}

}  // namespace luxdossier::record
