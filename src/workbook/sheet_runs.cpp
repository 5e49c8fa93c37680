#include "workbook/sheets.hpp"

#include "model/deviations.hpp"

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
    auto text = std::string(model::run_kind_text(run.kind));
    std::ranges::replace(text, '_', ' ');
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
    if (const auto join = model::join_words(run); !join.empty())
        text += "; " + join;
    return text + ". Readings in canonical units; row counts the data rows of the file.";
}

std::vector<Column> headings(const model::Table& table)
{
    std::vector<Column> names{{"row", true, 8}, {"left out", false, 12}};
    for (const auto& column : table.numbers)
        names.push_back({column.unit.empty() || column.unit == "1"
                             ? column.meaning
                             : fmt::format("{} / {}", column.meaning, column.unit),
                         true, 14});
    for (const auto& column : table.texts)
        names.push_back({column.meaning});
    return names;
}

/// Back to what was made of the readings.
std::vector<Link> ways_from(const Book& book, const ReadingSheets& readings)
{
    std::vector<Link> links{{"guide!A1", "guide"}};
    const auto ours = [&](std::size_t run) {
        return std::ranges::find(readings.runs, run) != readings.runs.end();
    };
    const auto& evaluation = book.dossier.evaluation;
    const auto set = std::ranges::find_if(evaluation.sets, ours, &model::ReadingSet::run);
    if (set != evaluation.sets.end())
        links.push_back(
            {book.map.set_cell(static_cast<std::size_t>(set - evaluation.sets.begin()), 0), "means"});
    const auto result = std::ranges::find_if(evaluation.results, [&](const model::Result& one) {
        return !one.runs.empty() && ours(one.runs.front());
    });
    if (result != evaluation.results.end())
        links.push_back(
            {book.map.result_cell(static_cast<std::size_t>(result - evaluation.results.begin()), 0),
             "results"});
    return links;
}

}  // namespace

void write_runs(Book& book)
{
    for (const auto& readings : book.map.readings()) {
        std::vector<Sheet*> sheets;
        for (const auto& name : readings.names) {
            auto& sheet = book.xlsx.sheet(name);
            sheet.title(book.dossier.qualification.runs[readings.runs.front()].id,
                        description(book.dossier, readings), ways_from(book, readings));
            if (readings.table != nullptr)
                sheet.headings(heading_row, headings(*readings.table));
            sheets.push_back(&sheet);
        }
        if (readings.table == nullptr)
            continue;
        const auto& table = *readings.table;
        const auto reasons = left_out(book.dossier, readings);
        const auto rows_of_a_sheet = book.map.rows_of_a_sheet();
        for (std::uint32_t row = 0; row < table.rows; ++row) {
            auto& sheet = *sheets[row / rows_of_a_sheet];
            const auto at = first_row + row % rows_of_a_sheet;
            sheet.number({at, 0}, row + 1.0, Look::whole);
            if (const auto reason = reasons.find(row); reason != reasons.end())
                sheet.text({at, 1}, reason->second, Look::after);
            std::uint16_t column = 2;
            for (const auto& numbers : table.numbers) {
                if (std::isfinite(numbers.values[row]))
                    sheet.number({at, column}, numbers.values[row], Look::plain);
                ++column;
            }
            for (const auto& texts : table.texts)
                sheet.text({at, column++}, texts.texts[texts.values[row]], Look::after);
        }
    }
}

}  // namespace luxdossier::workbook
