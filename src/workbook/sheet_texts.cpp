#include "workbook/sheets.hpp"

#include <algorithm>
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

void write_meters(Book& book)
{
    auto& sheet = book.xlsx.sheet("meters");
    sheet.title("Reference meters",
                "What makes the readings traceable, as stated in the header and on the certificates.",
                ways());
    auto row = first_row;
    for (const auto& meter : book.dossier.qualification.meters) {
        write_meter(sheet, row, meter);
        ++row;
    }
}

void write_remarks(Book& book)
{
    auto& sheet = book.xlsx.sheet("remarks");
    sheet.title("Remarks on bench practice",
                "What the readings say about the bench; a remark that blocks leaves the results "
                "it touches undecided.",
                ways());
    constexpr double text_width = 44;
    sheet.headings(heading_row, {{"remark", false, 26},
                                 {"severity", false, 10},
                                 {"run", false, 24},
                                 {"what was seen", false, text_width},
                                 {"what it does", false, text_width},
                                 {"what to do", false, text_width},
                                 {"accepted because", false, 30},
                                 {"results touched", true, 10}});
    auto row = first_row;
    for (const auto& remark : book.dossier.remarks) {
        double lines = Sheet::lines_of(remark.accepted, 30);
        for (const auto* text : {&remark.seen, &remark.effect, &remark.advice})
            lines = std::max(lines, Sheet::lines_of(*text, text_width));
        sheet.row_lines(row, lines);
        sheet.text({row, 0}, remark.id, Look::wrapped);
        sheet.text({row, 1}, model::severity_text(remark.severity), Look::wrapped);
        sheet.text({row, 2}, remark.run, Look::wrapped);
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
    auto& sheet = book.xlsx.sheet("evidence");
    sheet.title("Evidence", "The files that were read, and the programs that made this workbook.", ways());
    sheet.headings(heading_row, {{"file"}, {"what it is"}, {"bytes", true, 12}, {"SHA-256", false, 68}});
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
    auto& sheet = book.xlsx.sheet("stored");
    sheet.title("Stored cells",
                "Every cell that holds what the program computed instead of a formula, and why. "
                "The cells themselves are in grey italics.",
                ways());
    sheet.headings(heading_row, {{"cell"}, {"stored because", false, 110}});
    auto row = first_row;
    for (const auto& cell : book.stored) {
        const auto target = reference(cell.sheet, cell.position);
        sheet.link({row, 0}, target, target);
        sheet.text({row++, cells::stored_reason}, cell.reason);
    }
}

}  // namespace luxdossier::workbook
