#include "workbook/sheets.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

/// Why a row is left out: by row of the table, from 0; rows that no run of the table uses and no exclusion
/// names say so.
std::map<std::uint32_t, std::string> left_out(const model::Dossier& dossier, const ReadingSheets& readings)
{
    std::map<std::uint32_t, std::string> reasons;
    const auto& qualification = dossier.qualification;
    std::vector<bool> used(readings.table->rows, false);
    for (const auto run : readings.runs)
        for (const auto row : qualification.runs[run].rows)
            used.at(row) = true;
    for (std::uint32_t row = 0; row < used.size(); ++row)
        if (!used[row])
            reasons[row] = "left out";
    for (const auto& exclusion : qualification.exclusions) {
        const bool ours = std::ranges::any_of(
            readings.runs, [&](std::size_t run) { return qualification.runs[run].id == exclusion.run; });
        for (const auto row : exclusion.rows)
            if (ours && row >= 1 && row <= used.size() && !used[row - 1])
                reasons[static_cast<std::uint32_t>(row - 1)] = fmt::format("left out: {}", exclusion.reason);
    }
    return reasons;
}

std::string description(const model::Dossier& dossier, const ReadingSheets& readings)
{
    const auto& run = dossier.qualification.runs[readings.runs.front()];
    std::string text = std::string(model::run_kind_text(run.kind));
    const auto add = [&](const char* what, const std::string& value) {
        if (!value.empty())
            text += fmt::format(", {} {}", what, value);
    };
    add("sample", run.sample);
    add("configuration", run.configuration);
    add("source", run.source);
    add("meter", run.meter);
    for (const auto& file : run.files)
        add("file", file.file);
    if (readings.runs.size() > 1)
        text += fmt::format("; {} series of readings", readings.runs.size());
    return text + ". Readings in canonical units; row counts the data rows of the file.";
}

std::vector<std::string> headings(const model::Table& table)
{
    std::vector<std::string> names{"row", "left out"};
    for (const auto& column : table.numbers)
        names.push_back(column.unit.empty() || column.unit == "1"
                            ? column.meaning
                            : fmt::format("{} / {}", column.meaning, column.unit));
    for (const auto& column : table.texts)
        names.push_back(column.meaning);
    return names;
}

}  // namespace

void write_runs(Book& book)
{
    for (const auto& readings : book.map.readings()) {
        std::vector<Sheet*> sheets;
        for (const auto& name : readings.names) {
            auto& sheet = book.xlsx.add_sheet(name);
            sheet.title(book.dossier.qualification.runs[readings.runs.front()].id,
                        description(book.dossier, readings));
            if (readings.table != nullptr)
                sheet.headings(heading_row, headings(*readings.table));
            sheets.push_back(&sheet);
        }
        if (readings.table == nullptr)
            continue;
        const auto& table = *readings.table;
        const auto reasons = left_out(book.dossier, readings);
        constexpr std::uint32_t rows_of_a_sheet = sheet_rows - first_row;
        for (std::uint32_t row = 0; row < table.rows; ++row) {
            auto& sheet = *sheets[row / rows_of_a_sheet];
            const auto at = first_row + row % rows_of_a_sheet;
            sheet.number({at, 0}, row + 1.0, Look::whole);
            if (const auto reason = reasons.find(row); reason != reasons.end())
                sheet.text({at, 1}, reason->second);
            std::uint16_t column = 2;
            for (const auto& numbers : table.numbers) {
                if (std::isfinite(numbers.values[row]))
                    sheet.number({at, column}, numbers.values[row]);
                ++column;
            }
            for (const auto& texts : table.texts)
                sheet.text({at, column++}, texts.texts[texts.values[row]]);
        }
    }
}

}  // namespace luxdossier::workbook
