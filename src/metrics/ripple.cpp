#include "metrics/ripple.hpp"

#include "metrics/bench.hpp"
#include "metrics/families.hpp"
#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include "model/numerals.hpp"
#include "model/selection.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

using photometry::Ripple;

model::Result ripple_result(const Bench& bench, std::size_t run, std::string metric, std::string unit)
{
    model::Result result;
    result.metric = std::move(metric);
    result.conditions = bench.conditions_of(run);
    result.unit = std::move(unit);
    return result;
}

Expression observed(Bench& bench, std::string identity, std::string quantity, std::string symbol,
                    std::string unit, double estimate, double u, double degrees_of_freedom, std::string note)
{
    uncertainty::InputQuantity input;
    input.identity = std::move(identity);
    input.quantity = std::move(quantity);
    input.symbol = std::move(symbol);
    input.unit = std::move(unit);
    input.estimate = estimate;
    input.standard_uncertainty = u;
    input.evaluation = uncertainty::Evaluation::type_a;
    input.distribution = uncertainty::Distribution::student_t;
    input.degrees_of_freedom = degrees_of_freedom;
    input.note = std::move(note);
    return bench.input(input);
}

/// Frequency, percent flicker and flicker index of a waveform.
void add_shape(Bench& bench, std::size_t run, const Ripple& ripple, const Trail& trail)
{
    const auto identity = bench.run_identity(run);
    const auto words = "waveform of run " + bench.run(run).id;
    bench.add(ripple_result(bench, run, "ripple_frequency", "Hz"),
              {observed(bench, identity + "/frequency", words + ", frequency", "f", "Hz", ripple.frequency_hz,
                        ripple.u_frequency_hz, ripple.degrees_of_freedom, "least squares"),
               trail});
    const auto& bins = ripple.mean_of_bins;
    const auto [least, greatest] = std::ranges::minmax(bins);
    const auto n_bins = static_cast<double>(bins.size());
    const double freedom = std::max(1.0, static_cast<double>(ripple.n) - n_bins);
    const double u_bin = ripple.bin_noise / std::sqrt(ripple.readings_per_bin);
    const auto note = fmt::format("mean of {:.3g} readings at one phase", ripple.readings_per_bin);
    const auto top = observed(bench, identity + "/greatest", words + ", greatest", "x_max", "1", greatest,
                              u_bin, freedom, note);
    const auto bottom =
        observed(bench, identity + "/least", words + ", least", "x_min", "1", least, u_bin, freedom, note);
    bench.add(ripple_result(bench, run, "percent_flicker", "%"),
              {((top - bottom) / (top + bottom) * 100.0).named("PF"), trail});
    // What noise does to the areas above and below the mean, bins being independent.
    const auto [of_steps, of_lines] = photometry::flicker_areas(ripple.phase_of_bins, bins);
    const double index = (of_steps + of_lines) / 2;
    const double above =
        static_cast<double>(std::ranges::count_if(bins, [&](double value) { return value > ripple.mean; })) /
        n_bins;
    const double u_index =
        ripple.bin_noise / ripple.mean / std::sqrt(static_cast<double>(ripple.n)) *
        std::sqrt(above * std::pow(1 - above - index, 2) + (1 - above) * std::pow(above + index, 2));
    const auto areas = observed(bench, identity + "/flicker-index", words + ", flicker index", "FI", "1",
                                index, u_index, freedom, "areas of the mean waveform, noise of its readings");
    const auto between = bench.rectangular(
        identity + "/flicker-index/between", words + ", light between the phases read", "delta_FI", "1", 0,
        std::abs(of_steps - of_lines) / 2, "half the difference between steps and straight lines", true);
    bench.add(ripple_result(bench, run, "flicker_index", "1"), {(areas + between).named("FI"), trail});
}

/// Worst case for the product's integration time, as a sum over the harmonics at the worst phase.
void add_error(Bench& bench, std::size_t run, const Ripple& ripple, const Trail& trail)
{
    auto result = ripple_result(bench, run, "ripple_error", "%");
    const auto integration = integration_of(bench.qualification(), &bench.run(run));
    if (!integration) {
        bench.add_undecided(std::move(result), "the integration time of the product is not stated", trail);
        return;
    }
    const auto worst = photometry::worst_case(ripple.harmonics, ripple.frequency_hz, *integration);
    const auto identity = bench.run_identity(run);
    auto sum = bench.constant(0.0);
    bool first = true;
    for (const auto& harmonic : ripple.harmonics)
        for (const bool cosine : {true, false}) {
            const double turn = harmonic.order * worst.phase_rad;
            const double weight =
                photometry::sinc(harmonic.order * worst.cycles) * (cosine ? std::cos(turn) : std::sin(turn));
            const auto amplitude =
                observed(bench, fmt::format("{}/{}={}", identity, cosine ? "cosine" : "sine", harmonic.order),
                         fmt::format("waveform of run {}, harmonic {}, {}", bench.run(run).id, harmonic.order,
                                     cosine ? "cosine" : "sine"),
                         fmt::format("{}_{}", cosine ? "a" : "b", harmonic.order), "1",
                         cosine ? harmonic.cosine : harmonic.sine, ripple.u_amplitude,
                         ripple.degrees_of_freedom, "least squares");
            sum = first ? amplitude * weight : sum + amplitude * weight;
            first = false;
        }
    bench.state("ripple",
                fmt::format("Run {}: worst at f T = {:.4g} cycles; bound over all phases of the harmonics "
                            "{} %; with random start the ripple scatters single readings by {} %, "
                            "which the standard deviation of repeated readings already holds.",
                            bench.run(run).id, worst.cycles, model::numeral(100 * worst.bound, 3),
                            model::numeral(100 * worst.random_phase, 2)));
    bench.add(std::move(result), {(absolute_value(sum) * 100.0).named("e_r"), trail});
}

void add_shortest_time(Bench& bench, std::size_t run, const Ripple& ripple, const Trail& trail)
{
    const auto stated = bench.qualification().evaluation.ripple_error;
    if (!stated)
        return;
    auto tolerances = integration_of(bench.qualification(), &bench.run(run))
                          .value_or(photometry::Integration{0, 0, frequency_tolerance});
    auto result = ripple_result(bench, run, "ripple_integration_time", "s");
    result.conditions["error"] = model::ConditionQuantity{100 * *stated, "%"};
    result.without_recipe = "the shortest time is searched for over all worst cases";
    bench.add_value(
        std::move(result),
        photometry::shortest_integration_time(ripple.harmonics, ripple.frequency_hz, tolerances, *stated),
        trail);
}

void evaluate_run(Bench& bench, std::size_t run)
{
    Trail trail;
    trail.runs.push_back(run);
    const auto found = ripple_of(bench.run(run));
    if (!found.ripple) {
        for (const auto& [metric, unit] : {std::pair{"ripple_frequency", "Hz"},
                                           {"percent_flicker", "%"},
                                           {"flicker_index", "1"},
                                           {"ripple_error", "%"}})
            bench.add_undecided(ripple_result(bench, run, metric, unit),
                                fmt::format("run {}: {}", bench.run(run).id, found.reason), trail);
        return;
    }
    if (found.ripple->constant) {
        bench.state("ripple",
                    fmt::format("Run {}: no ripple above the noise of the waveform.", bench.run(run).id));
        bench.add_undecided(ripple_result(bench, run, "ripple_frequency", "Hz"),
                            fmt::format("run {}: no ripple stands above the noise", bench.run(run).id),
                            trail);
        for (const auto& [metric, unit] :
             {std::pair{"percent_flicker", "%"}, {"flicker_index", "1"}, {"ripple_error", "%"}}) {
            auto result = ripple_result(bench, run, metric, unit);
            result.without_recipe = "whether ripple stands above the noise is judged by the program";
            bench.add_value(std::move(result), 0.0, trail);
        }
        return;
    }
    add_shape(bench, run, *found.ripple, trail);
    add_error(bench, run, *found.ripple, trail);
    add_shortest_time(bench, run, *found.ripple, trail);
}

/// Without a waveform the supply alone bounds the error, whatever the course of the light.
void evaluate_supply(Bench& bench, const model::Source& source)
{
    const auto frequencies = supply_frequencies(source);
    if (frequencies.empty())
        return;
    model::Result result;
    result.metric = "ripple_error";
    result.conditions["source"] = source.id;
    result.unit = "%";
    const auto integration = integration_of(bench.qualification(), nullptr);
    if (!integration) {
        bench.add_undecided(std::move(result), "the integration time of the product is not stated", {});
        return;
    }
    double bound = 0;
    for (const double frequency_hz : frequencies)
        bound = std::max(bound, photometry::periodic_light_bound(frequency_hz, *integration));
    result.upper_bound = true;
    result.without_recipe = "the greatest error over all light that repeats at this frequency";
    bench.state(
        "ripple",
        fmt::format("Source {}: no waveform; the bound holds for any light that repeats at {:g} Hz or "
                    "above and is never negative.",
                    source.id, *std::ranges::min_element(frequencies)));
    bench.add_value(std::move(result), 100 * bound, {});
}

void evaluate_family(Bench& bench)
{
    const auto runs = bench.runs_of(model::RunKind::waveform);
    for (const auto run : runs)
        evaluate_run(bench, run);
    for (const auto& source : bench.qualification().sources)
        if (std::ranges::none_of(runs, [&](auto run) { return bench.run(run).source == source.id; }))
            evaluate_supply(bench, source);
}

}  // namespace

std::optional<photometry::Integration> integration_of(const model::Qualification& qualification,
                                                      const model::Run* run)
{
    photometry::Integration integration{0, 0, frequency_tolerance};
    const auto& product = qualification.product.integration_time;
    if (const auto own = run ? model::condition_number(run->conditions, "integration_time") : std::nullopt)
        integration.time_s = *own;
    else if (product)
        integration.time_s = product->value;
    if (!(integration.time_s > 0))
        return std::nullopt;
    if (product && product->value > 0 && product->standard_uncertainty)
        integration.time_tolerance =
            product->half_width.value_or(2 * *product->standard_uncertainty) / product->value;
    return integration;
}

std::vector<double> supply_frequencies(const model::Source& source)
{
    if (!source.supply_frequency_hz)
        return {};
    if (source.supply == "mains")
        return {*source.supply_frequency_hz, 2 * *source.supply_frequency_hz};
    return source.supply == "pwm" ? std::vector{*source.supply_frequency_hz} : std::vector<double>{};
}

photometry::RippleAnalysis ripple_of(const model::Run& run)
{
    const auto* times = run.table ? run.table->number("time") : nullptr;
    const auto* signals = run.table ? run.table->number("signal") : nullptr;
    std::vector<double> time_s, signal;
    if (times != nullptr && signals != nullptr)
        for (const auto row : run.rows)
            if (!std::isnan(times->values.at(row)) && !std::isnan(signals->values.at(row))) {
                time_s.push_back(times->values[row]);
                signal.push_back(signals->values[row]);
            }
    return photometry::analyse_ripple(time_s, signal);
}

Family ripple_family()
{
    Family family;
    family.info.id = "ripple";
    family.info.title = "Light ripple";
    family.info.question = "How much can the ripple of the light move a single reading?";
    family.info.method =
        "A reading averages the light over the integration time. From the waveform of the source follow its "
        "frequency, percent flicker, flicker index and harmonics; the ripple error is the worst case over "
        "the "
        "start of the integration, a frequency within 1 % and the tolerance of the integration time. Where "
        "no waveform was taken the supply frequency alone gives a bound for any periodic light.";
    family.info.formulas = {"PF = (x_max - x_min)/(x_max + x_min) x 100 %",
                            "e_r = max |sum m_k sinc(k f T) cos(k phi - phi_k)| x 100 %",
                            "e_r <= max(x, 1 - x)/(f T) x 100 %"};
    const std::vector<std::string> source{"source"};
    family.info.metrics = {
        {"ripple_frequency", "Ripple frequency", "Hz", "f", source, false, "fundamental of the light ripple"},
        {"percent_flicker", "Percent flicker", "%", "PF", source, false,
         "greatest less least light over their sum"},
        {"flicker_index", "Flicker index", "1", "FI", source, false,
         "light above the mean over all light of one period"},
        {"ripple_error", "Ripple error", "%", "e_r", source, false,
         "greatest relative error of one reading that the ripple of the light can make"},
        {"ripple_integration_time", "Integration time against ripple", "s", "T_r", source, false,
         "shortest integration time from which on the ripple stays below the stated error"}};
    family.evaluate = evaluate_family;
    family.figures = ripple_figures;
    return family;
}

}  // namespace luxdossier::metrics
