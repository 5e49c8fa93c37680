#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

std::string percent_of(double fraction)
{
    return with_unit(stated_text(std::round(fraction * 1e12) / 1e10), "%");
}

void add_fact(Facts& facts, std::string_view name, const std::string& value)
{
    if (!value.empty())
        facts.facts.push_back({std::string(name), plain(value)});
}

std::string calibration_source(const model::Certificate& certificate)
{
    std::string text = certificate.calibration_source_kind;
    if (certificate.calibration_colour_temperature_k)
        text += fmt::format("{}{}", text.empty() ? "" : ", ",
                            with_unit(stated_text(*certificate.calibration_colour_temperature_k), "K"));
    return text;
}

Facts certificate_facts(const model::Certificate& certificate)
{
    Facts facts;
    add_fact(facts, "Certificate", certificate.number);
    add_fact(facts, "Calibrated by", certificate.laboratory);
    add_fact(facts, "Accreditation",
             certificate.accreditation.empty() ? "not stated" : certificate.accreditation);
    add_fact(facts, "Traceable to",
             certificate.traceable_to.empty() ? "not stated" : certificate.traceable_to);
    add_fact(facts, "Quantity", "illuminance");
    add_fact(facts, "Calibrated range",
             fmt::format("{} to {}, {}",
                         with_unit(stated_text(certificate.points.front().illuminance_lx), "lx"),
                         with_unit(stated_text(certificate.points.back().illuminance_lx), "lx"),
                         counted(certificate.points.size(), "point")));
    add_fact(facts, "Calibration source", calibration_source(certificate));
    if (certificate.temperature)
        add_fact(facts, "Temperature",
                 with_unit(number_text(certificate.temperature->value - 273.15, 1), "degC"));
    add_fact(facts, "Issued", model::date_text(certificate.issued));
    add_fact(facts, "Recall", certificate.recall ? model::date_text(*certificate.recall) : "not stated");
    std::string factor = "k = " + stated_text(certificate.coverage_factor);
    factor +=
        certificate.coverage_probability
            ? fmt::format(", coverage probability {}", percent_text(*certificate.coverage_probability, 2))
            : ", coverage probability not stated";
    add_fact(facts, "Coverage", factor);
    add_fact(facts, "Common part of U",
             certificate.common_relative_expanded_uncertainty
                 ? percent_of(*certificate.common_relative_expanded_uncertainty)
                 : "not split: taken as common to all points");
    return facts;
}

Table points_table(const model::Meter& meter, const model::Certificate& certificate)
{
    Table table;
    table.caption = plain(fmt::format("Calibration points of meter {}", meter.id));
    Text factor = plain("Correction factor ");
    append(factor, symbol_text("C"));
    table.columns = {column("Illuminance / lx", Alignment::decimal),
                     ColumnSpec{factor, Alignment::decimal, 1}, column("U / %", Alignment::decimal),
                     column("As stated on the certificate", Alignment::left, 2)};
    for (const auto& point : certificate.points) {
        Row row;
        row.cells = {
            cell(stated_text(point.illuminance_lx)),
            cell(number_text(point.correction_factor,
                             point.relative_expanded_uncertainty > 0
                                 ? std::max(3, decimals_of_uncertainty(point.relative_expanded_uncertainty))
                                 : 4)),
            cell(stated_text(std::round(point.relative_expanded_uncertainty * 1e12) / 1e10)),
            cell(point.written)};
        table.rows.push_back(std::move(row));
    }
    return table;
}

Table characteristics_table(const model::Meter& meter)
{
    Table table;
    table.caption =
        plain(fmt::format("Characteristics of meter {}, half-widths of rectangular distributions", meter.id));
    table.columns = {column("Characteristic", Alignment::left, 2), column("Limit of error"),
                     column("Source")};
    const auto origin = [&](std::string_view key) -> std::string {
        if (std::ranges::find(meter.from_class, key) == meter.from_class.end())
            return "stated";
        return fmt::format("class limit ({}{}{})", meter.class_standard,
                           meter.class_standard.empty() ? "" : ", class ", meter.class_name);
    };
    const auto add = [&](std::string_view name, std::string_view key, const std::optional<double>& value,
                         std::string_view unit) {
        Row row;
        const std::string text =
            value ? with_unit(stated_text(std::round(*value * 1e12) / 1e10), unit) : "not stated";
        row.cells = {cell(name), cell(text), cell(value ? origin(key) : "")};
        table.rows.push_back(std::move(row));
    };
    add("Ageing (drift in a year)", "annual_drift", meter.annual_drift_per_year, "%/a");
    add("Linearity, f3", "linearity", meter.linearity, "%");
    add("Change of range, f11", "range_change", meter.range_change, "%");
    add("Spectral mismatch, f1′", "mismatch_index", meter.mismatch_index, "%");
    add("Directional response, f2 (not used at normal incidence)", "directional_index",
        meter.directional_index, "%");
    Row temperature;
    const auto& coefficient = meter.temperature_coefficient;
    temperature.cells = {
        cell("Temperature coefficient"),
        cell(coefficient ? with_unit(stated_text(std::round(coefficient->value * 1e12) / 1e10), "%/K")
                         : "not stated"),
        cell(coefficient ? origin("temperature_coefficient") : "")};
    table.rows.push_back(std::move(temperature));
    if (meter.outside_span) {
        Row outside;
        outside.cells = {cell("Linearity outside the calibrated span"),
                         cell(percent_of(meter.outside_span->linearity_half_width)),
                         cell(meter.outside_span->evidence)};
        table.rows.push_back(std::move(outside));
    }
    return table;
}

// Intermediate checks (ISO/IEC 17025:2017, 6.4.10).
Table checks_table(const model::Meter& meter)
{
    Table table;
    table.caption = plain(fmt::format("Intermediate checks of meter {}", meter.id));
    table.columns = {column("Date"), column("Found", Alignment::left, 3), column("By", Alignment::left, 1)};
    for (const auto& check : meter.checks) {
        Row row;
        row.cells = {cell(model::date_text(check.date)), cell(check.found), cell(check.by)};
        table.rows.push_back(std::move(row));
    }
    return table;
}

std::string ranges_text(const model::Meter& meter)
{
    std::vector<std::string> parts;
    for (const auto& range : meter.ranges)
        parts.push_back(fmt::format("up to {} in steps of {}", with_unit(stated_text(range.up_to_lx), "lx"),
                                    with_unit(stated_text(range.resolution_lx), "lx")));
    if (parts.empty() && meter.resolution_lx)
        return fmt::format("Resolution {}.", with_unit(stated_text(*meter.resolution_lx), "lx"));
    return parts.empty() ? "" : fmt::format("Ranges: {}.", joined(parts));
}

std::string ageing_text(const model::Dossier& dossier, const model::Meter& meter)
{
    if (!meter.certificate)
        return {};
    std::optional<model::Date> first, last;
    for (const auto& run : dossier.qualification.runs) {
        if (run.meter != meter.id || !run.started)
            continue;
        const auto date = run.started->date();
        first = first ? std::min(*first, date) : date;
        last = last ? std::max(*last, date) : date;
    }
    if (!first)
        return {};
    const auto days = [&](model::Date date) { return (date - meter.certificate->issued).count(); };
    std::string text =
        *first == *last ? fmt::format("Used {} days after its calibration", days(*first))
                        : fmt::format("Used {} to {} days after its calibration", days(*first), days(*last));
    if (meter.annual_drift_per_year)
        text += fmt::format(
            "; ageing of at most {} is an input of every result",
            with_unit(significant_text(*meter.annual_drift_per_year * 100 * static_cast<double>(days(*last)) *
                                           86400.0 / 31556925.9747,
                                       2),
                      "%"));
    if (meter.certificate->recall)
        text +=
            *last > *meter.certificate->recall ? "; the recall date had passed" : "; before its recall date";
    return text + ".";
}

std::string chain_text(const model::Meter& meter)
{
    const auto& certificate = *meter.certificate;
    const std::string laboratory =
        certificate.laboratory.empty() ? "laboratory not stated" : certificate.laboratory;
    const std::string upward =
        certificate.traceable_to.empty() ? "a standard that is not stated" : certificate.traceable_to;
    const std::string words = fmt::format(
        "The product's readings are compared with meter {}. Its certificate {}, issued by {} ({}), ties it "
        "to {}.",
        meter.id, certificate.number, laboratory,
        certificate.accreditation.empty() ? "accreditation not stated" : certificate.accreditation, upward);
    return certificate.traceable_to.empty() ? words + " The chain is not complete." : words;
}

std::string uncertainty_range(const model::Certificate& certificate)
{
    const auto relative = [](const model::CalibrationPoint& point) {
        return point.relative_expanded_uncertainty;
    };
    const auto [least, greatest] = std::ranges::minmax_element(certificate.points, {}, relative);
    if (relative(*least) == relative(*greatest))
        return "U " + percent_of(relative(*least));
    return fmt::format("U {} to {}", percent_of(relative(*least)), percent_of(relative(*greatest)));
}

std::string span_text(const model::Certificate& certificate)
{
    return fmt::format("{} to {}", with_unit(stated_text(certificate.points.front().illuminance_lx), "lx"),
                       with_unit(stated_text(certificate.points.back().illuminance_lx), "lx"));
}

// The chain as a figure: national standard, calibration, meter, results.
Chain chain_figure(const model::Dossier& dossier, const model::Meter& meter)
{
    const auto& certificate = *meter.certificate;
    Chain chain;
    const bool upward = !certificate.traceable_to.empty();
    chain.links.push_back(
        {"Standard", plain(upward ? certificate.traceable_to : "further chain not stated"), upward});
    Text calibration =
        plain(certificate.laboratory.empty() ? "laboratory not stated" : certificate.laboratory);
    append(calibration, plain(certificate.accreditation.empty() ? ", accreditation not stated"
                                                                : ", " + certificate.accreditation));
    append(calibration, plain("; certificate "));
    append(calibration, styled(certificate.number, Style::semibold));
    append(calibration, plain(fmt::format(", issued {}", model::date_text(certificate.issued))));
    chain.links.push_back({"Calibration", std::move(calibration)});
    Text reference = plain("meter ");
    append(reference, styled(meter.id, Style::semibold));
    if (!meter.serial.empty())
        append(reference, plain(", serial " + meter.serial));
    append(reference,
           plain(fmt::format("; illuminance {}, {} (k = {})", span_text(certificate),
                             uncertainty_range(certificate), stated_text(certificate.coverage_factor))));
    if (!meter.checks.empty())
        append(reference, plain(fmt::format("; checked {}: {}", model::date_text(meter.checks.back().date),
                                            meter.checks.back().found)));
    chain.links.push_back({"Reference meter", std::move(reference)});
    std::size_t runs = 0;
    for (const auto& run : dossier.qualification.runs)
        runs += run.meter == meter.id ? 1U : 0U;
    chain.links.push_back(
        {"Results", plain(fmt::format("illuminance at the sensor in {}, by comparison with the "
                                      "meter; every step is an input of the budgets",
                                      counted(runs, "run")))});
    chain.caption =
        plain(fmt::format("Traceability chain of meter {}, from the standard on the left to the results; "
                          "a dashed arrow is a step that is not established.",
                          meter.id));
    chain.alternative_text = fmt::format("Traceability chain of meter {} in four steps.", meter.id);
    for (const auto& link : chain.links)
        chain.alternative_text += fmt::format(" {}: {}.", link.role, plain_text(link.text));
    return chain;
}

}  // namespace

Blocks reference_meters(const model::Dossier& dossier)
{
    Blocks blocks;
    if (dossier.qualification.meters.empty())
        blocks.push_back(
            Paragraph{plain("The qualification header names no reference meter: the correction factor is "
                            "taken as 1, no result is decided, and the reference is not traceable.")});
    for (const auto& meter : dossier.qualification.meters) {
        std::string title = "Meter " + meter.id;
        if (!meter.description.empty())
            title += ", " + meter.description;
        if (!meter.serial.empty())
            title += ", serial " + meter.serial;
        blocks.push_back(Heading{2, plain(title), anchor_of("meter", meter.id)});
        if (!meter.certificate || meter.certificate->points.empty()) {
            blocks.push_back(Paragraph{plain("No certificate is stated: the correction factor is taken as 1, "
                                             "results that rest on this meter are not "
                                             "decided, and the reference is not traceable.")});
        } else {
            blocks.push_back(chain_figure(dossier, meter));
            blocks.push_back(Paragraph{plain(chain_text(meter))});
        }
        const std::string facts =
            ranges_text(meter) + (ranges_text(meter).empty() ? "" : " ") + ageing_text(dossier, meter);
        if (!facts.empty())
            blocks.push_back(Paragraph{plain(facts)});
        if (meter.certificate && !meter.certificate->points.empty()) {
            blocks.push_back(certificate_facts(*meter.certificate));
            blocks.push_back(points_table(meter, *meter.certificate));
        }
        if (!meter.checks.empty())
            blocks.push_back(checks_table(meter));
        blocks.push_back(characteristics_table(meter));
    }
    return blocks;
}

}  // namespace luxdossier::report
