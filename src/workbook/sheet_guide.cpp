#include "workbook/sheets.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

constexpr double name_width = 33, text_width = 92;

using Lines = std::vector<std::pair<std::string, std::string>>;

/// Read in ten seconds: the outcome stands above.
Lines advice()
{
    return {
        {"to try a limit",
         "Sheet limits: change a cell in a frame (bound, decision rule, guard-band multiple). The "
         "verdicts follow."},
        {"to try a reading",
         "Any run sheet (listed below): change a reading. Means, results, budgets and verdicts "
         "follow."},
        {"to see why", "Follow the links: verdict, result, budget, readings, and back."},
        {"what does not follow",
         "Cells in grey italics hold what the program computed, where a spreadsheet cannot "
         "follow: the sheet stored lists each. The choice of the model itself (ranges of the "
         "meter, pools, blocks of readings) stays as evaluated: the sheet means says where a "
         "change calls for a new evaluation."},
        {"caution", "Numbers support a decision; they do not replace the responsible person's sign-off."},
    };
}

const Lines& sheets()
{
    static const Lines lines{
        {"verdicts", "each limit on each result: value, U, acceptance limits, margin, outcome"},
        {"limits", "bounds, decision rule and guard-band multiple, to be changed"},
        {"results", "every result with u, k, U and the interval it covers"},
        {"budgets", "what each uncertainty is made of"},
        {"charts", "results beside their limits"},
        {"means", "readings condensed: mean, standard deviation, autocorrelation"},
        {"meters", "reference meters and their certificates"},
        {"remarks", "what the readings say about bench practice"},
        {"evidence", "files that were read, with SHA-256"},
        {"model", "workings: the calculation step by step"},
        {"derivatives", "workings: how each step moves with its inputs"},
        {"inputs", "workings: every input quantity with its standard uncertainty"},
        {"groups", "workings: inputs that were observed together or share a pool"},
        {"pools", "workings: pooled standard deviations"},
        {"neighbours", "workings: how neighbouring readings of each device correlate"},
        {"coverage", "workings: coverage factors of Student's t"},
        {"plots", "workings: numbers that the charts draw"},
        {"stored", "every cell that is no formula but a computed number, and why"},
    };
    return lines;
}

std::string outcome_list(const char* column)
{
    return fmt::format("${0}${1}:${0}${2}", column, cells::outcome_order_first.row + 1,
                       cells::outcome_order_last.row + 1);
}

/// The overall outcome, and how many verdicts have which outcome.
void write_outcome(const Book& book, Sheet& sheet)
{
    const auto& verdicts = book.dossier.verdicts;
    const auto count = static_cast<std::uint32_t>(verdicts.verdicts.size());
    sheet.text({cells::overall.row, 0}, "overall outcome", Look::strong);
    if (count > 0 && verdicts.overall)
        sheet.formula(cells::overall,
                      fmt::format("INDEX({},MAX({}))", outcome_list("D"),
                                  range_reference("verdicts", {first_row, column::verdict_rank},
                                                  {first_row + count - 1, column::verdict_rank})),
                      model::outcome_text(*verdicts.overall), Look::strong);
    else
        sheet.text(cells::overall, "no limits: no verdict", Look::strong);
}

void write_count(const Book& book, Sheet& sheet, model::Outcome outcome)
{
    const auto& verdicts = book.dossier.verdicts.verdicts;
    const Position word{cells::outcome_order_first.row + static_cast<std::uint32_t>(outcome),
                        cells::outcome_order_first.column};
    sheet.text(word, model::outcome_text(outcome));
    if (verdicts.empty())
        return;
    const auto last = first_row + static_cast<std::uint32_t>(verdicts.size()) - 1;
    sheet.formula({word.row, static_cast<std::uint16_t>(word.column + 1)},
                  fmt::format("COUNTIF({},{})",
                              range_reference("verdicts", {first_row, column::verdict_outcome},
                                              {last, column::verdict_outcome}),
                              cell_name(word)),
                  static_cast<double>(std::ranges::count(verdicts, outcome, &model::Verdict::outcome)),
                  Look::whole);
}

/// How many cells are stored, by reason: counted on the sheet that lists them.
void write_stored_counts(const Book& book, Sheet& sheet, std::uint32_t& row)
{
    std::map<std::string, std::size_t> counts;
    for (const auto& cell : book.stored)
        ++counts[cell.reason];
    sheet.text({row, 0}, "stored cells", Look::strong);
    sheet.text({row++, 1}, counts.empty()
                               ? "none"
                               : fmt::format("{} in all, each on the sheet stored", book.stored.size()));
    const auto list =
        range_reference("stored", {first_row, cells::stored_reason},
                        {first_row + static_cast<std::uint32_t>(book.stored.size()), cells::stored_reason});
    for (const auto& [reason, count] : counts) {
        sheet.formula({row, 0}, fmt::format("COUNTIF({},{})", list, cell_name({row, 1})),
                      static_cast<double>(count), Look::whole);
        sheet.text({row++, 1}, reason, Look::after);
    }
}

/// The runs with what they hold, as links to their readings.
void write_run_list(const Book& book, Sheet& sheet, std::uint32_t& row)
{
    sheet.text({row++, 0}, "readings", Look::strong);
    for (const auto& readings : book.map.readings()) {
        const auto& run = book.dossier.qualification.runs[readings.runs.front()];
        std::string text{model::run_kind_text(run.kind)};
        std::ranges::replace(text, '_', ' ');
        for (const auto& part : {run.sample, run.configuration, run.source})
            if (!part.empty())
                text += ", " + part;
        for (std::size_t i = 0; i < readings.names.size(); ++i) {
            sheet.link({row, 0}, reference(readings.names[i], {0, 0}), readings.names[i]);
            sheet.text({row++, 1}, i == 0 ? text : "goes on");
        }
    }
}

}  // namespace

void write_guide(Book& book)
{
    auto& sheet = book.sheet("guide");
    const auto& document = book.dossier.qualification.document;
    sheet.column_width(0, name_width);
    sheet.column_width(1, text_width);
    sheet.column_width(2, 3);
    sheet.column_width(3, 16);
    sheet.column_width(4, 8);
    sheet.title(document.title.empty() ? "Qualification of an ambient-light sensor" : document.title,
                fmt::format("{}{}{}", document.number, document.revision.empty() ? "" : ", revision ",
                            document.revision));
    sheet.text({heading_row, 0}, "The whole evaluation as live formulas, from readings to verdicts.");
    write_outcome(book, sheet);
    auto row = cells::overall.row;
    const auto lines = advice();
    for (std::size_t i = 0; i < lines.size(); ++i) {
        ++row;
        sheet.row_lines(row, Sheet::lines_of(lines[i].second, text_width));
        sheet.text({row, 0}, lines[i].first, Look::strong);
        sheet.text({row, 1}, lines[i].second, Look::wrapped);
    }
    row = cells::outcome_order_first.row - 1;
    sheet.text({row, 0}, "sheets", Look::strong);
    sheet.text({row++, cells::outcome_order_first.column}, "verdicts", Look::strong);
    auto outcome = 0;
    for (const auto& [name, text] : sheets()) {
        sheet.link({row, 0}, name + "!A1", name);
        sheet.text({row++, 1}, text);
        if (outcome <= static_cast<int>(model::Outcome::fail))
            write_count(book, sheet, static_cast<model::Outcome>(outcome++));
    }
    ++row;
    write_stored_counts(book, sheet, row);
    ++row;
    write_run_list(book, sheet, row);
    sheet.outcomes(cells::overall, cells::overall);
    book.xlsx.define_name("overall_outcome", absolute_reference("guide", cells::overall));
}

}  // namespace luxdossier::workbook
