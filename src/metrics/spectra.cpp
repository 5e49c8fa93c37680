#include "metrics/bench.hpp"
#include "metrics/families.hpp"
#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include "photometry/spectrum.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

photometry::Tabulated tabulated(const model::CurveFile& curve)
{
    return {curve.x, curve.y};
}

/// A device whose relative responsivity was stated.
struct Device {
    std::string condition;  ///< "meter" or "configuration"
    std::string id;
    const model::CurveFile* responsivity = nullptr;
    double calibration_k = 2856;
};

std::vector<Device> devices_of(const model::Qualification& qualification)
{
    std::vector<Device> devices;
    for (const auto& meter : qualification.meters)
        if (meter.relative_responsivity)
            devices.push_back({"meter", meter.id, &*meter.relative_responsivity,
                               meter.certificate
                                   ? meter.certificate->calibration_colour_temperature_k.value_or(2856)
                                   : 2856.0});
    for (const auto& configuration : qualification.configurations)
        if (configuration.relative_responsivity)
            devices.push_back({"configuration", configuration.id, &*configuration.relative_responsivity});
    return devices;
}

std::optional<double> factor_of(const Device& device, const model::Source& source)
{
    if (!source.spectrum || source.kind == model::SourceKind::near_infrared)
        return std::nullopt;
    return photometry::spectral_mismatch_factor(tabulated(*source.spectrum), tabulated(*device.responsivity),
                                                device.calibration_k);
}

constexpr const char* of_spectra = "an integral over spectra, which the workbook does not hold";

void add_index(Bench& bench, const Device& device)
{
    model::Result result;
    result.metric = "mismatch_index";
    result.conditions[device.condition] = device.id;
    result.unit = "%";
    result.without_recipe = of_spectra;
    if (const auto index = photometry::general_mismatch_index(tabulated(*device.responsivity)))
        bench.add_value(std::move(result), 100 * *index, {});
    else
        bench.add_undecided(std::move(result), "the responsivity does not overlap V(λ)", {});
}

/// F of one device for one source; of a meter as its budgets use it, with its half-width.
void add_factor(Bench& bench, const Device& device, const model::Source& source)
{
    if (!source.spectrum || source.kind == model::SourceKind::near_infrared)
        return;
    model::Result result;
    result.metric = "mismatch_factor";
    result.conditions[device.condition] = device.id;
    result.conditions["source"] = source.id;
    result.unit = "1";
    const auto factor = factor_of(device, source);
    result.without_recipe = of_spectra;
    if (!factor) {
        bench.add_undecided(std::move(result), "the spectra do not overlap", {});
        return;
    }
    const auto& graph = bench.builder().graph();
    const auto used =
        device.condition == "meter" && !source.spectral_correction
            ? graph.find_input(fmt::format("meter:{}/spectral-mismatch/source={}", device.id, source.id))
            : std::nullopt;
    if (used)
        bench.add(std::move(result), {Expression(bench.builder(), graph.node_of(*used)), {}});
    else
        bench.add_value(std::move(result), *factor, {});
}

/// Least and greatest measured variation of a configuration and source over samples and levels.
std::string measured_words(const Bench& bench, const std::string& configuration, const std::string& source)
{
    std::vector<double> values;
    for (const auto& result : bench.results())
        if (result.metric == "source_variation" && result.undecided.empty() && result.value &&
            text_of(result, "configuration") == configuration && text_of(result, "source") == source)
            values.push_back(*result.value);
    if (values.empty())
        return "not measured";
    const auto [least, greatest] = std::ranges::minmax(values);
    return fmt::format("measured {} % to {} %", short_text(least), short_text(greatest));
}

/// The response of the product per lux is 1/F: what the spectra predict of its source variation.
void state_predictions(Bench& bench, const Device& device)
{
    const auto& qualification = bench.qualification();
    const auto* reference = qualification.source(qualification.reference_source);
    if (device.condition != "configuration" || reference == nullptr)
        return;
    const auto f_reference = factor_of(device, *reference);
    for (const auto& source : qualification.sources) {
        const auto f = factor_of(device, source);
        if (source.id == reference->id || !f || !f_reference)
            continue;
        bench.state("spectra",
                    fmt::format("Source variation of {} under {}: predicted {} % from the spectra, {}.",
                                device.id, source.id, short_text(100 * (*f_reference / *f - 1)),
                                measured_words(bench, device.id, source.id)));
    }
}

void evaluate_family(Bench& bench)
{
    for (const auto& device : devices_of(bench.qualification())) {
        add_index(bench, device);
        for (const auto& source : bench.qualification().sources)
            add_factor(bench, device, source);
        state_predictions(bench, device);
    }
}

}  // namespace

Family spectra_family()
{
    Family family;
    family.info.id = "spectra";
    family.info.title = "Spectra";
    family.info.question = "How well do meter and product follow the eye?";
    family.info.method =
        "From the relative responsivity s and the spectra Z of the sources: the general V(λ) mismatch "
        "index of the responsivity s_n, "
        "normalised with illuminant A, and the spectral mismatch correction factor for every source. The "
        "response of the product per lux goes with 1/F: the source variation that the spectra predict stands "
        "beside the measured one.";
    family.info.formulas = {"f1' = int |s_n - V|/int V", "F = int Z V * int A s/(int Z s * int A V)",
                            "v = F_ref/F - 1"};
    family.info.metrics = {
        {"mismatch_index",
         "V(λ) mismatch index",
         "%",
         "f1'",
         {"meter", "configuration"},
         false,
         "area between the normalised responsivity and V(λ) over that of V(λ)"},
        {"mismatch_factor",
         "Spectral mismatch factor",
         "1",
         "F",
         {"meter", "configuration", "source"},
         false,
         "what a reading under the source is multiplied by, calibrated with illuminant A"}};
    family.evaluate = evaluate_family;
    family.figures = spectra_figures;
    return family;
}

}  // namespace luxdossier::metrics
