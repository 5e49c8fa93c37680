#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/together.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

constexpr std::size_t margins_on_cover = 12;

void add_fact(Cover& cover, std::string name, std::string value)
{
    if (!value.empty())
        cover.facts.push_back({std::move(name), std::move(value)});
}

std::string party_text(const model::Party& party)
{
    std::vector<std::string> parts;
    for (const auto& part : {party.name, party.address, party.contact}) {
        if (!part.empty())
            parts.push_back(part);
    }
    if (!party.accreditation.empty())
        parts.push_back("accreditation: " + party.accreditation);
    return fmt::format("{}", fmt::join(parts, "; "));
}

std::string tested_text(const model::DocumentInfo& document)
{
    if (!document.tested_from && !document.tested_to)
        return {};
    if (document.tested_from && document.tested_to && *document.tested_from != *document.tested_to)
        return fmt::format("{} to {}", model::date_text(*document.tested_from),
                           model::date_text(*document.tested_to));
    return model::date_text(document.tested_from ? *document.tested_from : *document.tested_to);
}

std::string item_text(const model::Qualification& qualification)
{
    const std::size_t samples = qualification.samples.size();
    std::vector<std::string> configurations;
    for (const auto& configuration : qualification.configurations)
        configurations.push_back(configuration.id);
    std::string text = qualification.product.description;
    if (samples > 0)
        text += fmt::format("{}{}", text.empty() ? "" : "; ", counted(samples, "sample"));
    if (!configurations.empty())
        text += fmt::format("{}{}", text.empty() ? "" : "; ", joined(configurations));
    return text;
}

std::string specification_text(const model::Dossier& dossier)
{
    if (!dossier.limits)
        return {};
    const auto& limits = *dossier.limits;
    std::string text = limits.title.empty() ? limits.file : limits.title;
    if (!limits.revision.empty())
        text += ", revision " + limits.revision;
    if (!limits.agreed_with.empty())
        text += ", agreed with " + limits.agreed_with;
    if (limits.agreed_on)
        text += " on " + model::date_text(*limits.agreed_on);
    return text;
}

void add_facts(Cover& cover, const model::Dossier& dossier)
{
    const auto& document = dossier.qualification.document;
    add_fact(cover, "Items", item_text(dossier.qualification));
    add_fact(cover, "Customer", party_text(document.customer));
    add_fact(cover, "Laboratory", party_text(document.laboratory));
    add_fact(cover, "Received", document.received ? model::date_text(*document.received) : "");
    add_fact(cover, "Tested", tested_text(document));
    add_fact(cover, "Place", document.place);
    add_fact(cover, "Issued", document.issued ? model::date_text(*document.issued) : "");
    add_fact(cover, "Method", document.method);
    add_fact(cover, "Specification", specification_text(dossier));
}

// The cover names the first few; the verdict table has them all.
std::string named_at_most(std::vector<std::string> ids)
{
    constexpr std::size_t most_named = 8;
    if (ids.size() > most_named) {
        const std::size_t more = ids.size() - most_named + 1;
        ids.resize(most_named - 1);
        ids.push_back(fmt::format("{} more", more));
    }
    return joined(ids);
}

// " Not decided: reference not traceable.", where all that is not decided has one reason.
std::string reason_not_decided(const model::Dossier& dossier)
{
    std::vector<std::string> reasons;
    for (const auto& verdict : dossier.verdicts.verdicts)
        if (verdict.outcome == model::Outcome::not_decided &&
            dossier.verdicts.by_limit.at(verdict.limit) == model::Outcome::not_decided)
            reasons.push_back(verdict.reason);
    const auto told = told_together(reasons);
    return told.size() == 1 && !told.front().text.empty()
               ? fmt::format(" Not decided: {}.", told.front().text)
               : std::string();
}

// "Of 8 limits 5 pass, 1 passes conditionally and 2 are not decided."
Text overall_sentence(const model::Dossier& dossier)
{
    if (!dossier.verdicts.overall)
        return plain(
            "No limits were given: this is a report of measurements without statements of conformity.");
    struct Wording {
        model::Outcome outcome;
        std::string_view one, many;
    };
    static constexpr std::array<Wording, 5> wordings{{
        {model::Outcome::pass, "passes", "pass"},
        {model::Outcome::conditional_pass, "passes conditionally", "pass conditionally"},
        {model::Outcome::not_decided, "is not decided", "are not decided"},
        {model::Outcome::conditional_fail, "fails conditionally", "fail conditionally"},
        {model::Outcome::fail, "fails", "fail"},
    }};
    std::vector<std::string> parts;
    for (const auto& wording : wordings) {
        std::vector<std::string> ids;
        for (std::size_t i = 0; i < dossier.verdicts.by_limit.size(); ++i) {
            if (dossier.verdicts.by_limit[i] == wording.outcome)
                ids.push_back(dossier.limits->limits.at(i).id);
        }
        if (ids.empty())
            continue;
        std::string part = fmt::format("{} {}", ids.size(), ids.size() == 1 ? wording.one : wording.many);
        if (wording.outcome != model::Outcome::pass)
            part += fmt::format(" ({})", named_at_most(ids));
        parts.push_back(std::move(part));
    }
    const auto& outcomes = dossier.verdicts.by_limit;
    const auto skipped = static_cast<std::size_t>(
        std::ranges::count_if(outcomes, [](const auto& outcome) { return !outcome.has_value(); }));
    if (skipped > 0)
        parts.push_back(
            fmt::format("{} not assessed", skipped == 1 ? "1 is" : fmt::format("{} are", skipped)));
    return plain(fmt::format("Of {} {}.{}", counted(outcomes.size(), "limit"), joined(parts),
                             reason_not_decided(dossier)));
}

std::vector<Text> statements(const model::Dossier& dossier)
{
    std::vector<Text> texts;
    if (dossier.limits) {
        std::string sentence =
            fmt::format("Statements of conformity are against the limits “{}”", specification_text(dossier));
        sentence += fmt::format(" by the decision rule {}.", model::rule_text(dossier.limits->rule.kind));
        const bool others = std::ranges::any_of(dossier.limits->limits,
                                                [](const auto& limit) { return limit.rule.has_value(); });
        if (others)
            sentence += " Limits with a rule of their own name it in the verdict table.";
        texts.push_back(plain(sentence));
    }
    texts.push_back(plain(fmt::format("Uncertainties are expanded uncertainties U = k u at a coverage "
                                      "probability of {}. The results relate only to the "
                                      "items tested.",
                                      percent_text(dossier.evaluation.coverage_probability, 2))));
    return texts;
}

}  // namespace

Blocks cover(const model::Dossier& dossier)
{
    const auto& document = dossier.qualification.document;
    Cover cover;
    cover.title = document.title.empty() ? "Qualification of an ambient-light sensor" : document.title;
    std::vector<std::string> line;
    if (!document.number.empty())
        line.push_back("Report " + document.number);
    if (!document.revision.empty())
        line.push_back("revision " + document.revision);
    if (document.issued)
        line.push_back("issued " + model::date_text(*document.issued));
    cover.number_line = fmt::format("{}", fmt::join(line, ", "));
    add_facts(cover, dossier);
    cover.overall = dossier.verdicts.overall;
    cover.overall_sentence = overall_sentence(dossier);
    cover.worst_margins = worst_margins(dossier, margins_on_cover);
    cover.statements = statements(dossier);
    cover.sign_off.roles = dossier.qualification.sign_off;
    return {std::move(cover)};
}

Blocks not_stated(const model::Dossier& dossier)
{
    const auto& document = dossier.qualification.document;
    std::vector<Text> missing;
    const auto need = [&](bool stated, std::string_view what) {
        if (!stated)
            missing.push_back(plain(what));
    };
    need(!document.number.empty(), "number of the report");
    need(!document.title.empty(), "title of the report");
    need(document.issued.has_value(), "date of issue");
    need(!document.laboratory.name.empty(), "name of the laboratory");
    need(!document.laboratory.address.empty(), "address of the laboratory");
    need(!document.customer.name.empty(), "name of the customer");
    need(!document.customer.address.empty(), "address of the customer");
    need(!document.method.empty(), "identification of the method");
    need(!document.place.empty(), "place of the tests");
    need(!document.sampling.empty(), "how the items were sampled");
    need(std::ranges::all_of(dossier.qualification.samples,
                             [](const model::Sample& sample) { return !sample.received.empty(); }),
         "state in which the items were received");
    need(document.environment.temperature.stated.has_value(), "temperature of the room");
    need(document.environment.humidity.stated.has_value(), "humidity of the room");
    need(document.received.has_value(), "date of receipt of the items");
    need(document.tested_from || document.tested_to, "dates of the tests");
    need(!dossier.qualification.product.description.empty(), "description of the product");
    need(!dossier.qualification.sign_off.empty(), "persons who authorise the report");
    if (missing.empty())
        return {};
    return {Paragraph{plain("ISO/IEC 17025:2017, 7.8.2 and 7.8.3 ask for these; the qualification header "
                            "does not state them:")},
            Bullets{std::move(missing)}};
}

Blocks supplied_by_customer(const model::Dossier& dossier)
{
    std::vector<Text> items;
    for (const auto& item : dossier.qualification.document.supplied_by_customer)
        items.push_back(plain(item));
    if (items.empty())
        return {};
    return {Paragraph{plain(
                "The customer supplied what follows; the laboratory is not responsible for it, and it can "
                "affect the validity of the results (ISO/IEC 17025:2017, 7.8.2.2):")},
            Bullets{std::move(items)}};
}

Blocks amendment(const model::Dossier& dossier)
{
    const auto& amends = dossier.qualification.document.amends;
    if (!amends)
        return {};
    return {Paragraph{
        plain(fmt::format("This report amends and replaces report {}{}{}. Reason: {}", amends->number,
                          amends->revision.empty() ? "" : ", revision ", amends->revision, amends->reason))}};
}

}  // namespace luxdossier::report
