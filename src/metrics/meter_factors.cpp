#include "metrics/meter_factors.hpp"

#include "model/numerals.hpp"

#include "photometry/spectrum.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// The year of udunits2, s: files state drift per such a year.
constexpr double year_s = 31'556'925.9747;
constexpr double day_s = 86'400;
/// An incandescent source counts as the calibration source within this of illuminant A's temperature.
constexpr double illuminant_a_k = 2856;
constexpr double illuminant_a_tolerance_k = 100;
/// Share of f1' that common practice leaves for a source like the calibration source.
constexpr double like_calibration_share = 0.1;

bool like_calibration_source(const model::Meter& meter, const model::Source& source)
{
    if (source.kind != model::SourceKind::incandescent || !meter.certificate)
        return false;
    const auto& certificate = *meter.certificate;
    if (certificate.calibration_source_kind != "incandescent")
        return false;
    return !certificate.calibration_colour_temperature_k ||
           std::abs(*certificate.calibration_colour_temperature_k - illuminant_a_k) <=
               illuminant_a_tolerance_k;
}

bool broad_enough_for_index(model::SourceKind kind)
{
    return kind == model::SourceKind::led || kind == model::SourceKind::incandescent ||
           kind == model::SourceKind::fluorescent || kind == model::SourceKind::daylight;
}

/// F from the spectra, with what remains uncertain: shares of the correction and of f1' (common practice, no
/// source).
struct Mismatch {
    double factor = 1;
    double half_width = 0;
};
std::optional<Mismatch> computed_mismatch(const model::Meter& meter, const model::Source& source)
{
    constexpr double share_of_correction = 0.2;
    const photometry::Tabulated spectrum{source.spectrum->x, source.spectrum->y};
    const photometry::Tabulated responsivity{meter.relative_responsivity->x, meter.relative_responsivity->y};
    const double temperature_k = meter.certificate && meter.certificate->calibration_colour_temperature_k
                                     ? *meter.certificate->calibration_colour_temperature_k
                                     : illuminant_a_k;
    const auto factor = photometry::spectral_mismatch_factor(spectrum, responsivity, temperature_k);
    const auto index =
        meter.mismatch_index ? meter.mismatch_index : photometry::general_mismatch_index(responsivity);
    if (!factor || !index)
        return std::nullopt;
    return Mismatch{*factor, share_of_correction * std::abs(*factor - 1) + like_calibration_share * *index};
}

}  // namespace

void leave_out(Bench& bench, Trail& trail, const std::string& of, const std::string& what,
               const std::string& effect)
{
    model::Remark remark;
    remark.id = "left-out";
    remark.severity = model::RemarkSeverity::blocks;
    remark.seen = fmt::format("{} of {} is not stated anywhere", what, of);
    remark.effect = effect;
    remark.advice = fmt::format(
        "state {} in the header (certificate, data sheet or class), or accept the remark with a reason",
        what);
    trail.remarks.push_back(bench.remark(std::move(remark)));
}

std::string provenance(const model::Meter& meter, std::string_view key, std::string otherwise)
{
    const bool from_class = std::ranges::find(meter.from_class, key) != meter.from_class.end();
    return from_class ? fmt::format("class limit ({} {})", meter.class_standard, meter.class_name)
                      : otherwise;
}

Factor ageing_factor(Bench& bench, const model::Meter& meter, std::size_t run, Trail& trail)
{
    if (!meter.certificate)
        return std::nullopt;
    if (!meter.annual_drift_per_year) {
        leave_out(bench, trail, "meter " + meter.id, "annual_drift",
                  "the ageing of the meter is left out of its budgets");
        return std::nullopt;
    }
    const auto& started = bench.run(run).started;
    if (!started) {
        leave_out(bench, trail, "run " + bench.run(run).id, "started",
                  "the ageing of the meter is left out: its time is not known");
        return std::nullopt;
    }
    const auto days = (started->date() - meter.certificate->issued).count();
    const double years = static_cast<double>(days) * day_s / year_s;
    const auto drift = bench.rectangular(
        fmt::format("meter:{}/annual-drift", meter.id),
        fmt::format("ageing of {}, relative, per year", meter.id), "a", "1", 0, *meter.annual_drift_per_year,
        provenance(meter, "annual_drift", "annual_drift as stated, half-width"));
    return (1.0 + drift * years).named("A");
}

Factor temperature_factor(Bench& bench, const model::Meter& meter, std::size_t run, Trail& trail)
{
    const auto& conditions = bench.run(run).conditions;
    const auto stated = conditions.find("meter_temperature");
    if (stated == conditions.end() || !std::holds_alternative<model::ConditionQuantity>(stated->second))
        return std::nullopt;
    if (!meter.temperature_coefficient) {
        leave_out(bench, trail, "meter " + meter.id, "temperature_coefficient",
                  "the temperature of the meter is not corrected");
        return std::nullopt;
    }
    if (!meter.certificate || !meter.certificate->temperature) {
        leave_out(bench, trail, "the certificate of meter " + meter.id, "temperature",
                  "the temperature of the meter is not corrected");
        return std::nullopt;
    }
    const double difference_k =
        std::get<model::ConditionQuantity>(stated->second).value - meter.certificate->temperature->value;
    auto coefficient = *meter.temperature_coefficient;
    coefficient.note = provenance(meter, "temperature_coefficient", coefficient.note);
    const auto alpha =
        bench.stated(fmt::format("meter:{}/temperature-coefficient", meter.id),
                     fmt::format("temperature coefficient of {}", meter.id), "alpha", coefficient);
    return (1.0 - alpha * difference_k).named("T");
}

Factor linearity_factor(Bench& bench, const model::Meter& meter, const std::string& identity,
                        const std::string& words, Trail& trail)
{
    if (!meter.linearity) {
        leave_out(bench, trail, "meter " + meter.id, "linearity",
                  "the linearity of the meter is left out of its budgets");
        return std::nullopt;
    }
    return (1.0 + bench.rectangular(fmt::format("meter:{}/linearity/{}", meter.id, identity),
                                    fmt::format("linearity of {} {}", meter.id, words), "l", "1", 0,
                                    *meter.linearity,
                                    provenance(meter, "linearity", "f3 as stated, half-width")))
        .named("L");
}

Factor range_factor(Bench& bench, const model::Meter& meter, std::optional<std::size_t> range, Trail& trail)
{
    if (!range)
        return std::nullopt;
    if (!meter.range_change) {
        if (meter.ranges.size() > 1)
            leave_out(bench, trail, "meter " + meter.id, "range_change",
                      "the change between ranges of the meter is left out of its budgets");
        return std::nullopt;
    }
    const double up_to = meter.ranges.at(*range).up_to_lx;
    return (1.0 + bench.rectangular(fmt::format("meter:{}/range={}lx", meter.id, up_to),
                                    fmt::format("range {} lx of {}", model::numeral(up_to, 9), meter.id), "g",
                                    "1", 0, *meter.range_change,
                                    provenance(meter, "range_change", "f11 as stated, half-width")))
        .named("G");
}

Factor spectral_factor(Bench& bench, const model::Meter& meter, std::size_t run, const std::string& source_id,
                       Trail& trail)
{
    const auto* source = bench.qualification().source(source_id.empty() ? bench.run(run).source : source_id);
    if (source == nullptr) {
        leave_out(bench, trail, "run " + bench.run(run).id, "source",
                  "the spectral mismatch of the meter is left out of its budgets");
        return std::nullopt;
    }
    const auto identity = fmt::format("meter:{}/spectral-mismatch/source={}", meter.id, source->id);
    const auto quantity = fmt::format("spectral mismatch of {} for {}", meter.id, source->id);
    if (source->spectral_correction)
        return bench.stated(identity, quantity, "F", *source->spectral_correction).named("F");
    if (source->spectrum && meter.relative_responsivity)
        if (const auto mismatch = computed_mismatch(meter, *source))
            return bench
                .rectangular(
                    identity, quantity, "F", "1", mismatch->factor, mismatch->half_width,
                    "from the spectra of source and meter; half-width 0.2 |F − 1| + 0.1 f1′, common practice")
                .named("F");
    if (!broad_enough_for_index(source->kind)) {
        if (!bench.accepts("spectral-mismatch", run))
            trail.undecide(
                fmt::format("spectral-mismatch: source {} is of kind {} and neither its spectrum nor "
                            "a spectral_correction is stated",
                            source->id, model::source_kind_text(source->kind)));
        return std::nullopt;
    }
    if (!meter.mismatch_index) {
        leave_out(bench, trail, "meter " + meter.id, "mismatch_index",
                  "the spectral mismatch of the meter is left out of its budgets");
        return std::nullopt;
    }
    const bool like = like_calibration_source(meter, *source);
    return (1.0 + bench.rectangular(
                      identity, quantity, "f", "1", 0,
                      *meter.mismatch_index * (like ? like_calibration_share : 1.0),
                      provenance(meter, "mismatch_index",
                                 like ? "a tenth of f1', source like the calibration source; common practice"
                                      : "f1' as half-width; common practice")))
        .named("F");
}

}  // namespace luxdossier::metrics
