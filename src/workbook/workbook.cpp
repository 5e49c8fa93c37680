#include "workbook/workbook.hpp"

#include "workbook/sheets.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

Xlsx::Properties properties(const model::Dossier& dossier)
{
    const auto& document = dossier.qualification.document;
    Xlsx::Properties result;
    result.title = document.title.empty() ? "Qualification of an ambient-light sensor" : document.title;
    result.subject = document.number;
    result.author = document.laboratory.name;
    result.header_left = result.title;
    result.footer_left =
        fmt::format("{}{}{}{}", document.number, document.revision.empty() ? "" : ", revision ",
                    document.revision, dossier.qualification.is_draft() ? " Draft" : "");
    result.footer_middle = "results relate only to the items tested";
    result.version = dossier.version;
    result.created = static_cast<std::int64_t>(std::floor(dossier.date.seconds));
    return result;
}

}  // namespace

bool Book::number(Sheet& sheet, Position position, const Term* formula, double value,
                  const std::string& reason, Look look)
{
    if (formula != nullptr) {
        sheet.formula(position, formula->text, value, look);
        return true;
    }
    if (!reason.empty() && std::isinf(value))
        store(sheet, position, infinite_word, reason);
    else if (!reason.empty())
        store(sheet, position, value, reason);
    else if (std::isinf(value))
        sheet.text(position, infinite_word);
    else
        sheet.number(position, value, look);
    return false;
}

void Book::store(Sheet& sheet, Position position, double value, const std::string& reason)
{
    sheet.number(position, value, Look::stored);
    stored.push_back({sheet.name(), position, reason});
}

void Book::store(Sheet& sheet, Position position, std::string_view text, const std::string& reason)
{
    sheet.text(position, text, Look::stored);
    stored.push_back({sheet.name(), position, reason});
}

std::string conditions_text(const model::Result& result)
{
    const auto words = [](const model::ConditionValue& value) {
        if (const auto* quantity = std::get_if<model::ConditionQuantity>(&value))
            return fmt::format("{} {}", quantity->value, quantity->unit);
        return std::get<std::string>(value);
    };
    const std::array<std::string, 3> plain{"configuration", "source", "level"};
    std::string text;
    const auto add = [&](const std::string& part) { text += (text.empty() ? "" : ", ") + part; };
    for (const auto& name : plain)
        if (const auto found = result.conditions.find(name); found != result.conditions.end())
            add(words(found->second));
    for (const auto& [name, value] : result.conditions) {
        if (std::ranges::find(plain, name) != plain.end())
            continue;
        auto said = name;
        std::ranges::replace(said, '_', ' ');
        add(said + " " + words(value));
    }
    return text;
}

std::string metric_title(const model::Dossier& dossier, const std::string& metric)
{
    for (const auto& family : dossier.families)
        for (const auto& info : family.metrics)
            if (info.id == metric)
                return info.title;
    return metric;
}

std::string result_text(const model::Dossier& dossier, const model::Result& result)
{
    auto text = metric_title(dossier, result.metric);
    for (const auto& part : {result.sample, conditions_text(result)})
        if (!part.empty())
            text += ", " + part;
    return text;
}

std::vector<Link> ways()
{
    std::vector<Link> links;
    for (const char* name : {"guide", "verdicts", "limits", "results", "budgets", "charts", "means"})
        links.push_back({fmt::format("{}!A1", name), name});
    return links;
}

namespace {

/// In the order in which a reader asks: what was decided, on what limits and results, from which readings;
/// then the workings.
void add_sheets(const CellMap& map, Xlsx& xlsx)
{
    for (const char* name : {"guide", "verdicts", "limits", "results", "budgets", "charts", "means"})
        xlsx.add_sheet(name);
    for (const auto& readings : map.readings())
        for (const auto& name : readings.names)
            xlsx.add_sheet(name);
    for (const char* name : {"meters", "remarks", "evidence"})
        xlsx.add_sheet(name);
    for (const auto& name : map.model_sheets())
        xlsx.add_sheet(name).mark_workings();
    for (const char* name :
         {"derivatives", "inputs", "groups", "pools", "neighbours", "coverage", "plots", "stored"})
        xlsx.add_sheet(name).mark_workings();
}

}  // namespace

void write_workbook(const model::Dossier& dossier, const std::filesystem::path& file, std::uint32_t rows)
{
    CellMap map(dossier, rows);
    const MeanFormulas means(dossier, map);
    const Derivatives derivatives(dossier, map);
    const Recipes recipes(dossier, map);
    const StoredUpstream stored_upstream(dossier, map, means, derivatives, recipes);
    Xlsx xlsx(file, properties(dossier));
    Book book{dossier, xlsx, map, means, derivatives, recipes, stored_upstream, {}};
    add_sheets(map, xlsx);
    write_verdicts(book);
    write_limits(book);
    write_results(book);
    write_budgets(book);
    write_charts(book);
    write_model(book);
    write_derivatives(book);
    write_inputs(book);
    write_means(book);
    write_coverage(book);
    write_runs(book);
    write_meters(book);
    write_remarks(book);
    write_evidence(book);
    write_stored(book);
    write_guide(book);
    xlsx.close();
}

}  // namespace luxdossier::workbook
