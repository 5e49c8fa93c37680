#include "workbook/workbook.hpp"

#include "workbook/sheets.hpp"

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
    result.header_right =
        fmt::format("{}{}{}{}", document.number, document.revision.empty() ? "" : ", revision ",
                    document.revision, dossier.qualification.is_draft() ? " Draft" : "");
    result.footer_left = "results relate only to the items tested";
    result.created = static_cast<std::int64_t>(std::floor(dossier.date.seconds));
    return result;
}

}  // namespace

bool Book::number(Sheet& sheet, Position position, const Term* formula, double value,
                  const std::string& reason)
{
    if (formula != nullptr) {
        sheet.formula(position, formula->text, value);
        return true;
    }
    if (!reason.empty() && std::isinf(value))
        store(sheet, position, infinite_word, reason);
    else if (!reason.empty())
        store(sheet, position, value, reason);
    else if (std::isinf(value))
        sheet.text(position, infinite_word);
    else
        sheet.number(position, value);
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
    std::string text;
    for (const auto& [name, value] : result.conditions)
        text += fmt::format("{}{}={}", text.empty() ? "" : ", ", name, model::condition_text(value));
    return text;
}

void write_workbook(const model::Dossier& dossier, const std::filesystem::path& file)
{
    CellMap map(dossier);
    const MeanFormulas means(dossier, map);
    const Derivatives derivatives(dossier, map);
    const StoredUpstream stored_upstream(dossier, map, means, derivatives);
    Xlsx xlsx(file, properties(dossier));
    Book book{dossier, xlsx, map, means, derivatives, stored_upstream, {}};
    auto& guide = xlsx.add_sheet("guide");
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
    write_guide(book, guide);
    xlsx.close();
}

}  // namespace luxdossier::workbook
