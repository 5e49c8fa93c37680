#include "report/placeholders.hpp"

#include "report/numbers.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <array>

namespace luxdossier::report {
namespace {

std::string or_not_stated(std::string text)
{
    return text.empty() ? "not stated" : text;
}

std::string date_or_not_stated(const std::optional<model::Date>& date)
{
    return date ? model::date_text(*date) : "not stated";
}

struct Placeholder {
    std::string_view name;
    std::string (*value)(const model::Dossier&);
};

const auto& document(const model::Dossier& dossier)
{
    return dossier.qualification.document;
}

using D = model::Dossier;
constexpr std::array<Placeholder, 20> placeholders{{
    {"document.number", [](const D& d) { return or_not_stated(document(d).number); }},
    {"document.title", [](const D& d) { return or_not_stated(document(d).title); }},
    {"document.revision", [](const D& d) { return or_not_stated(document(d).revision); }},
    {"document.issued", [](const D& d) { return date_or_not_stated(document(d).issued); }},
    {"document.received", [](const D& d) { return date_or_not_stated(document(d).received); }},
    {"document.tested_from", [](const D& d) { return date_or_not_stated(document(d).tested_from); }},
    {"document.tested_to", [](const D& d) { return date_or_not_stated(document(d).tested_to); }},
    {"document.method", [](const D& d) { return or_not_stated(document(d).method); }},
    {"customer.name", [](const D& d) { return or_not_stated(document(d).customer.name); }},
    {"customer.address", [](const D& d) { return or_not_stated(document(d).customer.address); }},
    {"laboratory.name", [](const D& d) { return or_not_stated(document(d).laboratory.name); }},
    {"laboratory.address", [](const D& d) { return or_not_stated(document(d).laboratory.address); }},
    {"laboratory.accreditation",
     [](const D& d) { return or_not_stated(document(d).laboratory.accreditation); }},
    {"product.description", [](const D& d) { return or_not_stated(d.qualification.product.description); }},
    {"limits.title", [](const D& d) { return d.limits ? or_not_stated(d.limits->title) : "no limits"; }},
    {"limits.revision",
     [](const D& d) { return d.limits ? or_not_stated(d.limits->revision) : "no limits"; }},
    {"overall.outcome",
     [](const D& d) {
         return d.verdicts.overall ? std::string(model::outcome_text(*d.verdicts.overall)) : "no limits";
     }},
    {"coverage.probability", [](const D& d) { return percent_text(d.evaluation.coverage_probability, 2); }},
    {"program.version", [](const D& d) { return or_not_stated(d.version); }},
    {"date", [](const D& d) { return model::date_text(d.date.date()); }},
}};

}  // namespace

std::optional<std::string> placeholder(const model::Dossier& dossier, std::string_view name)
{
    const auto* const found = std::ranges::find(placeholders, name, &Placeholder::name);
    return found == placeholders.end() ? std::nullopt : std::optional(found->value(dossier));
}

std::vector<std::string_view> placeholder_names()
{
    std::vector<std::string_view> names;
    for (const auto& entry : placeholders)
        names.push_back(entry.name);
    return names;
}

}  // namespace luxdossier::report
