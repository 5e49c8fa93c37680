#include "metrics/illuminance.hpp"

#include "metrics/meter_factors.hpp"
#include "metrics/zeros.hpp"
#include "model/numerals.hpp"

#include <fmt/format.h>

namespace luxdossier::metrics {

Traced illuminance_at_meter(Bench& bench, const ReadingMean& indication, const IlluminanceAt& at)
{
    auto trail = indication.trail;
    auto net = indication.total.named("R");
    const auto zeros = zeros_of(bench, at.run);
    trail.add(zeros.trail);
    if (zeros.meter) {
        net = net - zeros.meter->value;
        auto zero_trail = zeros.meter->trail;
        zero_trail.runs.clear();  // the run that is judged comes first; its dark run is named by the sets
        trail.add(zero_trail);
    }
    const auto* meter = bench.qualification().meter(bench.run(at.run).meter);
    if (meter == nullptr) {
        trail.undecide(fmt::format("reference not traceable: run {} names no meter", bench.run(at.run).id));
        return {net, trail};
    }
    auto illuminance = net;
    for (const auto& factor :
         {certificate_factor(bench, *meter, at.run, net, trail), ageing_factor(bench, *meter, at.run, trail),
          temperature_factor(bench, *meter, at.run, trail),
          linearity_factor(bench, *meter, at.linearity_identity, at.linearity_words, trail),
          range_factor(bench, *meter, indication.range, trail),
          spectral_factor(bench, *meter, at.run, at.source, trail)})
        if (factor)
            illuminance = illuminance * *factor;
    return {illuminance, trail};
}

std::optional<double> distance_m(const Bench& bench, std::size_t run)
{
    const auto& conditions = bench.run(run).conditions;
    const auto found = conditions.find("distance");
    if (found != conditions.end())
        if (const auto* distance = std::get_if<model::ConditionQuantity>(&found->second))
            return distance->value;
    const auto& stated = bench.qualification().geometry.distance;
    return stated ? std::optional(stated->value) : std::nullopt;
}

std::optional<Expression> placement_factor(Bench& bench, std::size_t run, const std::string& identity,
                                           bool at_product, Trail& trail)
{
    const auto& geometry = bench.qualification().geometry;
    const auto distance = distance_m(bench, run);
    if (!geometry.plane_offset || !distance || !(*distance > 0)) {
        leave_out(bench, trail, "the geometry", !geometry.plane_offset ? "plane_offset" : "distance",
                  "the placement of the meter by hand is left out of the budgets");
        return std::nullopt;
    }
    auto offset = *geometry.plane_offset;
    if (!at_product)
        offset.value =
            0;  // a reference position has no product plane behind it: only the placement is uncertain
    if (offset.note.empty())
        offset.note = fmt::format("plane_offset as stated, distance {} m", model::numeral(*distance, 6));
    const auto* const quantity =
        at_product ? "placement of the meter at the sensor" : "placement of the meter at the reference";
    const auto dz = bench.stated(identity, quantity, "dz", offset);
    const double d = *distance;
    const double r = geometry.source_diameter ? geometry.source_diameter->value / 2 : 0;
    if (offset.value == 0)
        return (1.0 - dz * (2 / ((1 + r * r / (d * d)) * d))).named("P");
    const auto behind = d + dz;
    return ((d * d + r * r) / (behind * behind + r * r)).named("P");
}

}  // namespace luxdossier::metrics
