#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "model/selection.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

/// Runs whose meter readings count as illuminance; any steady detector will do for a log or a waveform.
std::vector<std::size_t> runs_of_meter(const Bench& bench, const model::Meter& meter)
{
    std::vector<std::size_t> runs;
    for (const auto kind : {model::RunKind::comparison, model::RunKind::position, model::RunKind::field_map,
                            model::RunKind::near_infrared})
        for (const auto run : bench.runs_of(kind))
            if (bench.run(run).meter == meter.id)
                runs.push_back(run);
    return runs;
}

std::vector<std::size_t> results_of_meter(const Bench& bench, const model::Meter& meter)
{
    std::vector<std::size_t> results;
    for (const auto run : runs_of_meter(bench, meter))
        add_results(results, bench.results_of(run));
    return results;
}

/// Half-width of F around 1 where neither spectra nor a correction tell it (docs/metrics/illuminance.md,
/// factor F).
std::optional<double> uncorrected_half_width(const model::Source& source, const model::Meter& meter)
{
    if (source.spectral_correction || (source.spectrum && meter.relative_responsivity) ||
        !meter.mismatch_index)
        return std::nullopt;
    const bool like_calibration =
        source.kind == model::SourceKind::incandescent && meter.certificate &&
        meter.certificate->calibration_source_kind == "incandescent" &&
        std::abs(meter.certificate->calibration_colour_temperature_k.value_or(2856.0) - 2856.0) <= 100.0;
    return like_calibration ? 0.1 * *meter.mismatch_index : *meter.mismatch_index;
}

/// Equipment that a run names gives readings that results rest on.
void examine_equipment(Bench& bench)
{
    for (const auto& item : bench.qualification().equipment) {
        std::vector<std::size_t> results;
        for (std::size_t run = 0; run < bench.qualification().runs.size(); ++run)
            if (bench.run(run).names_equipment(item.id))
                add_results(results, bench.results_of(run));
        std::vector<std::string_view> missing;
        if (item.certificate.empty())
            missing.emplace_back("certificate");
        if (item.traceable_to.empty())
            missing.emplace_back("chain to a national standard");
        if (results.empty() || missing.empty())
            continue;
        bench.raise({"chain-incomplete",
                     RemarkSeverity::concern,
                     {},
                     fmt::format("{}: {} not stated", item.id, fmt::join(missing, ", ")),
                     "metrological traceability cannot be claimed (ILAC-P10)",
                     "state what the certificate says, or use equipment with a complete chain",
                     std::move(results),
                     {}});
    }
}

}  // namespace

void certificate_recall_passed(Bench& bench)
{
    for (const auto& meter : bench.qualification().meters) {
        if (!meter.certificate || !meter.certificate->recall)
            continue;
        for (const auto run : runs_of_meter(bench, meter)) {
            const auto& subject = bench.run(run);
            const auto date = date_of(bench, run);
            if (!date) {
                bench.raise(
                    {"certificate-recall-passed",
                     RemarkSeverity::concern,
                     subject.id,
                     fmt::format(
                         "certificate {} of {} is to be renewed by {}, and nothing tells when the run "
                         "was made",
                         meter.certificate->number, meter.id, model::date_text(*meter.certificate->recall)),
                     "whether the calibration was in date is not known",
                     "state when the runs started, or the dates of the tests",
                     bench.results_of(run),
                     {}});
                continue;
            }
            if (!(*meter.certificate->recall < *date))
                continue;
            bench.raise({"certificate-recall-passed",
                         RemarkSeverity::blocks,
                         subject.id,
                         fmt::format("certificate {} of {} was to be renewed by {}, the run is of {}",
                                     meter.certificate->number, meter.id,
                                     model::date_text(*meter.certificate->recall), model::date_text(*date)),
                         "the calibration is out of date: the results of the run are not decided",
                         "have the meter calibrated, or accept the remark with a reason",
                         bench.results_of(run),
                         {}});
        }
    }
}

void chain_incomplete(Bench& bench)
{
    examine_equipment(bench);
    for (const auto& meter : bench.qualification().meters) {
        const auto results = results_of_meter(bench, meter);
        if (results.empty())
            continue;
        std::string missing;
        const auto note = [&missing](bool is_missing, std::string_view what) {
            if (is_missing)
                missing += fmt::format("{}{}", missing.empty() ? "" : ", ", what);
        };
        if (!meter.certificate) {
            note(true, "certificate");
        } else {
            note(meter.certificate->number.empty(), "number of the certificate");
            note(meter.certificate->laboratory.empty(), "calibration laboratory");
            note(meter.certificate->accreditation.empty(), "its accreditation");
            note(meter.certificate->traceable_to.empty(), "chain to a national standard");
            note(!meter.certificate->coverage_probability, "coverage probability");
        }
        if (!missing.empty())
            bench.raise({"chain-incomplete",
                         RemarkSeverity::concern,
                         {},
                         fmt::format("{}: {} not stated", meter.id, missing),
                         "metrological traceability cannot be claimed (ILAC-P10)",
                         "state what the certificate says, or use a meter with a complete chain",
                         results,
                         {}});
    }
}

void spectral_mismatch(Bench& bench)
{
    constexpr double noteworthy = 0.02;
    std::map<std::pair<std::string, std::string>, std::vector<std::size_t>> pairs;
    for (const auto run : bench.runs_of(model::RunKind::comparison))
        add_results(pairs[{bench.run(run).source, bench.run(run).meter}], bench.results_of(run));
    for (auto& [pair, results] : pairs) {
        const auto* source = bench.qualification().source(pair.first);
        const auto* meter = bench.qualification().meter(pair.second);
        if (source == nullptr || meter == nullptr)
            continue;
        const bool narrow =
            source->kind == model::SourceKind::near_infrared || source->kind == model::SourceKind::other;
        if (narrow && !source->spectrum && !source->spectral_correction) {
            bench.raise({"spectral-mismatch",
                         RemarkSeverity::blocks,
                         {},
                         fmt::format("source {} is {}, without spectrum or correction", source->id,
                                     model::source_kind_text(source->kind)),
                         "an index f1' says nothing of a narrow band: not decided",
                         "state the spectrum of the source, or its correction factor",
                         std::move(results),
                         {}});
            continue;
        }
        const auto half_width = uncorrected_half_width(*source, *meter);
        if (half_width && *half_width > noteworthy)
            bench.raise({"spectral-mismatch",
                         RemarkSeverity::concern,
                         {},
                         fmt::format("source {} with {}: uncorrected, |F − 1| may reach {} %", source->id,
                                     meter->id, model::numeral(100.0 * *half_width, 2)),
                         "the spectral input dominates the budgets",
                         "state the spectrum of the source and the responsivity of the meter",
                         std::move(results),
                         {}});
    }
}

void meter_temperature(Bench& bench)
{
    constexpr double span_k = 5.0;
    for (const auto& meter : bench.qualification().meters) {
        if (!meter.certificate || !meter.certificate->temperature || meter.temperature_coefficient)
            continue;
        for (const auto run : runs_of_meter(bench, meter)) {
            const auto at = model::condition_number(bench.run(run).conditions, "meter_temperature");
            if (!at || !(std::abs(*at - meter.certificate->temperature->value) > span_k))
                continue;
            bench.raise(
                {"meter-temperature",
                 RemarkSeverity::concern,
                 bench.run(run).id,
                 fmt::format("{} stood at {:.1f} degrees Celsius and was calibrated at {:.1f}", meter.id,
                             *at - 273.15, meter.certificate->temperature->value - 273.15),
                 "its temperature coefficient is not stated: what 5 K and more do to it is left out",
                 "state the temperature coefficient, or keep the meter near its calibration temperature",
                 bench.results_of(run),
                 {}});
        }
    }
}

}  // namespace luxdossier::practice
