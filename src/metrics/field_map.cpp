#include "metrics/families.hpp"
#include "metrics/illuminance.hpp"
#include "model/numerals.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double percent = 100;

/// A place of the map, in m from the centre.
using Place = std::pair<double, double>;
using PlaceRows = std::pair<Place, std::vector<std::uint32_t>>;

/// Rows of every place, in the order in which the places were first read.
std::vector<PlaceRows> places_of(const Bench& bench, std::size_t run)
{
    std::vector<PlaceRows> places;
    std::map<Place, std::size_t> where;
    const auto& table = bench.run(run).table;
    const auto* x = table ? table->number("x") : nullptr;
    const auto* y = table ? table->number("y") : nullptr;
    if (x == nullptr || y == nullptr)
        return places;
    for (const auto row : bench.rows_with(run, "meter")) {
        const Place place{x->values.at(row) + 0.0, y->values.at(row) + 0.0};  // no minus zero
        if (std::isnan(place.first) || std::isnan(place.second))
            continue;
        const auto [found, is_new] = where.try_emplace(place, places.size());
        if (is_new)
            places.emplace_back(place, std::vector<std::uint32_t>{});
        places[found->second].second.push_back(row);
    }
    return places;
}

bool inside(const Place& place, double diameter_m)
{
    constexpr double slack = 1e-9;  // a place on the edge, stated in another unit, is inside
    const double square = place.first * place.first + place.second * place.second;
    return square <= diameter_m * diameter_m / 4 * (1 + slack);
}

std::vector<SetRequest> requests_of(const std::vector<PlaceRows>& places, double diameter_m)
{
    constexpr double mm = 1e-3;
    std::vector<SetRequest> requests;
    for (const auto& [place, rows] : places) {
        if (!inside(place, diameter_m))
            continue;
        const double x_mm = std::round(place.first / mm * 1e9) / 1e9;
        const double y_mm = std::round(place.second / mm * 1e9) / 1e9;
        SetRequest request;
        request.column = "meter";
        request.rows = rows;
        request.identity = fmt::format("x={}mm/y={}mm", x_mm, y_mm);
        request.words = fmt::format("meter at ({} mm, {} mm)", x_mm, y_mm);
        request.symbol = "R";
        request.place = fmt::format("({} mm, {} mm)", x_mm, y_mm);
        requests.push_back(std::move(request));
    }
    return requests;
}

model::Result result_of(const Bench& bench, std::size_t run, std::string metric, std::string unit)
{
    model::Result result;
    result.metric = std::move(metric);
    result.conditions = bench.conditions_of(run);
    result.unit = std::move(unit);
    return result;
}

void evaluate_map(Bench& bench, std::size_t run)
{
    const auto& diameter = bench.qualification().geometry.sensor_diameter;
    const auto requests =
        diameter ? requests_of(places_of(bench, run), diameter->value) : std::vector<SetRequest>{};
    auto uniformity = result_of(bench, run, "field_uniformity", "1");
    auto range = result_of(bench, run, "field_range", "%");
    Trail trail;
    trail.runs = {run};
    if (requests.size() < 2) {
        const auto reason = !diameter ? std::string("geometry.sensor_diameter is not stated")
                                      : fmt::format("the map has {} inside the aperture of {} mm",
                                                    requests.empty() ? "no place" : "one place only",
                                                    model::numeral(diameter->value * 1e3, 4));
        bench.add_undecided(std::move(uniformity), reason, trail);
        bench.add_undecided(std::move(range), reason, trail);
        return;
    }
    std::vector<Expression> illuminances;
    for (const auto& mean : means_of(bench, run, requests)) {
        auto illuminance =
            illuminance_at_meter(bench, mean, {run, bench.run_identity(run), "in run " + bench.run(run).id});
        trail.add(illuminance.trail);
        illuminances.push_back(illuminance.value);
    }
    // On the graph, so that trials and workbook see another place become the lowest.
    auto lowest = illuminances.front(), highest = illuminances.front(), sum = illuminances.front();
    for (std::size_t i = 1; i < illuminances.size(); ++i) {
        lowest = uncertainty::minimum(lowest, illuminances[i]);
        highest = uncertainty::maximum(highest, illuminances[i]);
        sum = sum + illuminances[i];
    }
    const auto mean = (sum / static_cast<double>(illuminances.size())).named("E_mean");
    bench.add(std::move(uniformity), {lowest / mean, trail});
    bench.add(std::move(range), {(highest - lowest) / mean * percent, trail});
    bench.state("field-uniformity",
                fmt::format("{} places inside the aperture of {} mm", illuminances.size(),
                            model::numeral(diameter->value * 1e3, 4)),
                "run " + bench.run(run).id);
}

}  // namespace

Family field_uniformity_family()
{
    Family family;
    auto& info = family.info;
    info.id = "field-uniformity";
    info.title = "Uniformity of the field";
    info.question = "How evenly does the source light the sensor's aperture?";
    info.method = "The meter was moved over the plane of the sensor. Only places inside the sensor's "
                  "aperture count, the "
                  "centre being (0, 0). Certificate, ageing, linearity and spectral inputs are common to all "
                  "places and "
                  "cancel by themselves as far as the readings agree; there is no placement input.";
    info.formulas = {"uniformity = E_min/E_mean", "range = (E_max - E_min)/E_mean x 100 %"};
    info.metrics = {
        {"field_uniformity",
         "Field uniformity",
         "1",
         "U_1",
         {"configuration", "source"},
         false,
         "Least illuminance inside the aperture over the mean."},
        {"field_range",
         "Field range",
         "%",
         "r_E",
         {"configuration", "source"},
         false,
         "Greatest less least illuminance inside the aperture, relative to the mean."},
    };
    family.evaluate = [](Bench& bench) {
        for (const auto run : bench.runs_of(model::RunKind::field_map))
            evaluate_map(bench, run);
    };
    return family;
}

}  // namespace luxdossier::metrics
