#include "workbook/sheets.hpp"

#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

std::string percent(std::optional<double> fraction)
{
    return fraction ? fmt::format("{:.6g} %", *fraction * 100) : "not stated";
}

void write_meter(Sheet& sheet, std::uint32_t& row, const model::Meter& meter)
{
    const auto fact = [&](std::string_view name, std::string_view value) {
        if (value.empty())
            return;
        sheet.text({row, 0}, name);
        sheet.text({row++, 1}, value);
    };
    sheet.text({row++, 0}, fmt::format("meter {}", meter.id), Look::strong);
    fact("description", meter.description);
    fact("serial number", meter.serial);
    if (meter.resolution_lx)
        fact("resolution", fmt::format("{} lx", *meter.resolution_lx));
    for (const auto& range : meter.ranges)
        fact("range", fmt::format("up to {} lx, resolution {} lx", range.up_to_lx, range.resolution_lx));
    fact("ageing, half-width",
         meter.annual_drift_per_year ? percent(meter.annual_drift_per_year) + " per year" : "not stated");
    fact("linearity f3, half-width", percent(meter.linearity));
    fact("range change f11, half-width", percent(meter.range_change));
    fact("spectral mismatch index f1'", percent(meter.mismatch_index));
    fact("directional response index f2", percent(meter.directional_index));
    if (!meter.class_name.empty())
        fact("class", fmt::format("{} {}", meter.class_standard, meter.class_name));
    if (meter.outside_span)
        fact("evidence outside the calibrated span", meter.outside_span->evidence);
    if (!meter.certificate) {
        fact("certificate", "none: reference not traceable");
        return;
    }
    const auto& certificate = *meter.certificate;
    fact("certificate", certificate.number);
    fact("calibration laboratory", certificate.laboratory);
    fact("accreditation", certificate.accreditation);
    fact("traceable to", certificate.traceable_to);
    fact("issued", model::date_text(certificate.issued));
    if (certificate.recall)
        fact("recall", model::date_text(*certificate.recall));
    fact("coverage factor", fmt::format("{}", certificate.coverage_factor));
    fact("common part, expanded", percent(certificate.common_relative_expanded_uncertainty));
    const char* names[] = {"illuminance / lx", "correction factor", "expanded uncertainty / %", "as stated"};
    for (std::uint16_t column = 0; column < 4; ++column)
        sheet.text({row, column}, names[column], Look::heading);
    ++row;
    for (const auto& point : certificate.points) {
        sheet.number({row, 0}, point.illuminance_lx);
        sheet.number({row, 1}, point.correction_factor);
        sheet.number({row, 2}, point.relative_expanded_uncertainty * 100);
        sheet.text({row++, 3}, point.written);
    }
}

}  // namespace

namespace {

/// How many cells are stored, by reason: counted on the sheet that lists them.
void write_stored_counts(const Book& book, Sheet& sheet, std::uint32_t row)
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
        sheet.text({row++, 1}, reason);
    }
}

}  // namespace

void write_meters(Book& book)
{
    auto& sheet = book.xlsx.add_sheet("meters");
    sheet.title("Reference meters",
                "What makes the readings traceable, as stated in the header and on the certificates.");
    auto row = first_row;
    for (const auto& meter : book.dossier.qualification.meters) {
        write_meter(sheet, row, meter);
        ++row;
    }
}

void write_remarks(Book& book)
{
    auto& sheet = book.xlsx.add_sheet("remarks");
    sheet.title("Remarks on bench practice",
                "What the readings say about the bench; a remark that blocks leaves the results "
                "it touches undecided.");
    sheet.headings(heading_row, {"remark", "severity", "run", "what was seen", "what it does", "what to do",
                                 "accepted because", "results touched"});
    auto row = first_row;
    for (const auto& remark : book.dossier.remarks) {
        sheet.text({row, 0}, remark.id);
        sheet.text({row, 1}, model::severity_text(remark.severity));
        sheet.text({row, 2}, remark.run);
        sheet.text({row, 3}, remark.seen, Look::wrapped);
        sheet.text({row, 4}, remark.effect, Look::wrapped);
        sheet.text({row, 5}, remark.advice, Look::wrapped);
        sheet.text({row, 6}, remark.accepted, Look::wrapped);
        sheet.number({row, 7}, static_cast<double>(remark.results.size()), Look::whole);
        ++row;
    }
    for (const auto& rule : book.dossier.rules_not_applied)
        sheet.text({row++, 0}, fmt::format("not applied, it needs limits: {}", rule), Look::note);
}

void write_evidence(Book& book)
{
    auto& sheet = book.xlsx.add_sheet("evidence");
    sheet.title("Evidence", "The files that were read, and the programs that made this workbook.");
    sheet.headings(heading_row, {"file", "what it is", "bytes", "SHA-256"});
    auto row = first_row;
    for (const auto& file : book.dossier.qualification.files) {
        sheet.text({row, 0}, file.path);
        sheet.text({row, 1}, file.role);
        sheet.number({row, 2}, static_cast<double>(file.size), Look::whole);
        sheet.text({row++, 3}, file.sha256);
    }
    ++row;
    sheet.text({row, 0}, "luxdossier", Look::strong);
    sheet.text({row++, 1}, book.dossier.version);
    for (const auto& [name, version] : book.dossier.libraries) {
        sheet.text({row, 0}, name);
        sheet.text({row++, 1}, version);
    }
}

void write_stored(Book& book)
{
    auto& sheet = book.xlsx.add_sheet("stored");
    sheet.title("Stored cells",
                "Every cell that holds what the program computed instead of a formula, and why. "
                "The cells themselves are in grey italics.");
    sheet.headings(heading_row, {"cell", "stored because"});
    auto row = first_row;
    for (const auto& cell : book.stored) {
        const auto target = reference(cell.sheet, cell.position);
        sheet.link({row, 0}, target, target);
        sheet.text({row++, cells::stored_reason}, cell.reason);
    }
}

void write_guide(Book& book, Sheet& sheet)
{
    const auto& document = book.dossier.qualification.document;
    sheet.title(document.title.empty() ? "Qualification of an ambient-light sensor" : document.title,
                fmt::format("{}{}{}", document.number, document.revision.empty() ? "" : ", revision ",
                            document.revision));
    const auto& overall = book.dossier.verdicts.overall;
    const auto count = book.dossier.verdicts.verdicts.size();
    sheet.column_width(0, 30);
    sheet.column_width(1, 90);
    std::vector<std::pair<std::string, std::string>> lines{
        {"what this is", "The whole evaluation as live formulas: readings, means, model, budgets, results, "
                         "verdicts. The values "
                         "that the program computed are stored with every formula."},
        {"what to change", "On the sheet limits: bounds, decision rule, guard-band multiple (cells in a "
                           "frame). On the run sheets: "
                           "readings. Everything below them follows when the workbook is calculated."},
        {"what does not follow",
         "Numbers in grey italics are stored: a spreadsheet cannot follow there. They are listed below. The "
         "choice of the model itself (ranges of the meter, pools, blocks of readings) is that of the "
         "readings as evaluated: the sheet means says where a change calls for a new evaluation."},
        {"the way back", "Links lead from each verdict to its limit and result, from a result to its budget "
                         "and its readings."},
        {"caution", "Numbers support a decision; they do not replace the responsible person's sign-off."},
    };
    auto row = first_row;
    sheet.text({row, 0}, "overall outcome", Look::strong);
    if (count > 0 && overall)
        sheet.formula(cells::overall,
                      fmt::format("INDEX($D${}:$D${},MAX({}))", cells::outcome_order_first.row + 1,
                                  cells::outcome_order_last.row + 1,
                                  range_reference("verdicts", {first_row, column::verdict_rank},
                                                  {first_row + static_cast<std::uint32_t>(count) - 1,
                                                   column::verdict_rank})),
                      model::outcome_text(*overall), Look::strong);
    else
        sheet.text(cells::overall, "no limits: no verdict");
    sheet.text(cells::outcome_order_first, model::outcome_text(model::Outcome::pass), Look::note);
    for (int outcome = 1; outcome <= static_cast<int>(model::Outcome::fail); ++outcome) {
        ++row;
        const auto& [name, text] = lines[static_cast<std::size_t>(outcome) - 1];
        sheet.text({row, 0}, name, Look::strong);
        sheet.text({row, 1}, text, Look::wrapped);
        sheet.text({row, cells::outcome_order_first.column},
                   model::outcome_text(static_cast<model::Outcome>(outcome)), Look::note);
    }
    ++row;
    sheet.text({row, 0}, lines.back().first, Look::strong);
    sheet.text({row++, 1}, lines.back().second, Look::wrapped);
    ++row;
    write_stored_counts(book, sheet, row);
    sheet.outcomes(cells::overall, cells::overall);
    book.xlsx.define_name("overall_outcome", absolute_reference("guide", cells::overall));
}

}  // namespace luxdossier::workbook
