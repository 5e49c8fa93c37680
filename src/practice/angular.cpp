#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "model/selection.hpp"
#include "practice/dark_runs.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

double degree_of(double rad)
{
    const double rounded = std::round(rad * 180.0 / std::numbers::pi * 1e9) / 1e9;
    return rounded == 0.0 ? 0.0 : rounded;
}

/// One plane of an angular run: readings by angle, series at 0 one after the other, screened readings.
struct Plane {
    std::size_t run = 0;
    double degree = 0;
    std::map<double, std::vector<double>> readings;
    std::vector<std::vector<double>> zero_series;
    std::vector<double> screened;
    double zero_lx = 0;  ///< of the product, capped
};

double mean(const std::vector<double>& values)
{
    double sum = 0.0;
    for (const double value : values)
        sum += value;
    return sum / static_cast<double>(values.size());
}

/// The product's capped reading, from the dark run that the run names.
double product_zero_lx(const Bench& bench, std::size_t run)
{
    const auto dark = named_dark_run(bench, run, "sensor");
    if (!dark || condition_of(bench.run(*dark), "light") == "blocked")
        return 0.0;
    const auto reading = mean_of(bench, *dark, "sensor");
    return reading ? reading->mean : 0.0;
}

std::vector<Plane> planes_of(const Bench& bench, std::size_t run)
{
    std::map<double, Plane> planes;
    const auto stated = model::condition_number(bench.run(run).conditions, "plane");
    Plane* series_of = nullptr;  // whose series at 0 the last row belonged to
    for (const auto row : bench.run(run).rows) {
        const double angle_rad = bench.cell(run, "angle", row), reading = bench.cell(run, "sensor", row);
        if (std::isnan(angle_rad) || std::isnan(reading))
            continue;
        const double column = bench.cell(run, "plane", row);
        const double degree = stated ? *stated : (std::isnan(column) ? 0.0 : degree_of(column));
        const double angle = degree_of(angle_rad);
        auto& plane = planes[degree];
        const double screened = bench.cell(run, "screened", row);
        if (!std::isnan(screened) && screened != 0.0) {
            plane.screened.push_back(reading);
            continue;
        }
        plane.readings[angle].push_back(reading);
        if (angle != 0.0) {
            series_of = nullptr;
            continue;
        }
        if (series_of != &plane)
            plane.zero_series.emplace_back();
        plane.zero_series.back().push_back(reading);
        series_of = &plane;
    }
    std::vector<Plane> found;
    for (auto& [degree, plane] : planes) {
        plane.run = run;
        plane.degree = degree;
        plane.zero_lx = product_zero_lx(bench, run);
        found.push_back(std::move(plane));
    }
    return found;
}

std::string words_of(const Bench& bench, const Plane& plane)
{
    return fmt::format("{} plane {}°", bench.words(plane.run), model::numeral(plane.degree, 4));
}

/// Results of a run in one plane, and those over all planes.
std::vector<std::size_t> results_of_plane(const Bench& bench, const Plane& plane,
                                          std::string_view metric = {})
{
    std::vector<std::size_t> found;
    for (const auto index : bench.results_of(plane.run)) {
        const auto& result = bench.evaluation().results[index];
        const auto degree = model::condition_number(result.conditions, "plane");
        if ((!degree || *degree == plane.degree) && (metric.empty() || result.metric == metric))
            found.push_back(index);
    }
    return found;
}

std::pair<double, double> steps_of(const Plane& plane)
{
    double smallest = std::numeric_limits<double>::infinity(), largest = 0.0;
    for (auto angle = plane.readings.begin(); angle != plane.readings.end(); ++angle)
        if (const auto next = std::next(angle); next != plane.readings.end()) {
            smallest = std::min(smallest, next->first - angle->first);
            largest = std::max(largest, next->first - angle->first);
        }
    return {smallest, largest};
}

void for_planes(Bench& bench, void (*tell)(Bench&, const Plane&))
{
    for (const auto run : bench.runs_of(model::RunKind::angular))
        for (const auto& plane : planes_of(bench, run))
            tell(bench, plane);
}

void coarse_scan_of(Bench& bench, const Plane& plane)
{
    constexpr double widest_degree = 5.0, index_to_degree = 80.0, slack = 1e-6;
    const auto& id = bench.run(plane.run).id;
    const std::string advice = "scan in steps of 5° or less, finer where the response is half";
    if (const double step = steps_of(plane).second; step > widest_degree + slack)
        bench.raise({"coarse-scan",
                     RemarkSeverity::concern,
                     id,
                     fmt::format("{}: steps of up to {}°", words_of(bench, plane), model::numeral(step, 3)),
                     "what the response does between the angles is a guess",
                     advice,
                     results_of_plane(bench, plane),
                     {}});
    for (const auto index : results_of_plane(bench, plane, "half_response_angle")) {
        const auto& result = bench.evaluation().results[index];
        const auto side = model::condition_text(result.conditions, "side");
        if (!result.node || !result.combined) {
            if (!result.undecided.empty() && !plane.readings.empty())
                bench.raise({"coarse-scan",
                             RemarkSeverity::blocks,
                             id,
                             fmt::format("{}: {}", words_of(bench, plane), result.undecided),
                             "the half-response angle of this side is not decided",
                             "scan on until the response is below half",
                             {index},
                             {}});
            continue;
        }
        for (const auto& line : bench.evaluation().budget(result).lines) {
            const auto& identity = bench.evaluation().graph.inputs()[line.input.index].identity;
            if (identity.ends_with("/interpolation") &&
                line.contribution > result.combined->standard_uncertainty / 2.0)
                bench.raise({"coarse-scan",
                             RemarkSeverity::concern,
                             id,
                             fmt::format("{}: on the {} side the interpolation contributes {}° to u = {}°",
                                         words_of(bench, plane), side, model::numeral(line.contribution, 2),
                                         model::numeral(result.combined->standard_uncertainty, 2)),
                             "the half-response angle rests on how the curve is drawn between two angles",
                             advice,
                             {index},
                             {}});
        }
    }
    const auto* configuration = bench.qualification().configuration(bench.run(plane.run).configuration);
    if (configuration == nullptr || !configuration->target_is_cosine || plane.readings.empty())
        return;
    const double from = plane.readings.begin()->first, to = plane.readings.rbegin()->first;
    if (from > -index_to_degree + slack || to < index_to_degree - slack) {
        auto touched = results_of_plane(bench, plane, "directional_index");
        bench.raise({"coarse-scan",
                     RemarkSeverity::blocks,
                     id,
                     fmt::format("{}: scanned from {}° to {}°", words_of(bench, plane),
                                 model::numeral(from, 4), model::numeral(to, 4)),
                     "f2 needs −80° to 80°: not decided",
                     "scan to 80° on both sides",
                     std::move(touched),
                     {}});
    }
}

void zero_angle_of(Bench& bench, const Plane& plane)
{
    constexpr double steady = 0.005;
    const auto& id = bench.run(plane.run).id;
    if (plane.zero_series.empty()) {
        bench.raise({"zero-angle",
                     RemarkSeverity::blocks,
                     id,
                     fmt::format("{}: no reading at 0°", words_of(bench, plane)),
                     "there is nothing to which the response could refer: not decided",
                     "read at 0° at the start, at the end and on return",
                     results_of_plane(bench, plane),
                     {}});
        return;
    }
    double lowest = std::numeric_limits<double>::infinity(), highest = -lowest;
    for (const auto& series : plane.zero_series) {
        lowest = std::min(lowest, mean(series) - plane.zero_lx);
        highest = std::max(highest, mean(series) - plane.zero_lx);
    }
    const double reference = mean(plane.readings.at(0.0)) - plane.zero_lx;
    if (plane.zero_series.size() > 1 && reference > 0.0 && (highest - lowest) / reference > steady)
        bench.raise(
            {"zero-angle",
             RemarkSeverity::concern,
             id,
             fmt::format("{}: the {} returns to 0° differ by {} %", words_of(bench, plane),
                         plane.zero_series.size(), model::numeral(100.0 * (highest - lowest) / reference, 2)),
             "source or product drifted during the scan; the drift is an input of every angle",
             "log a monitor, or scan faster after warm-up",
             results_of_plane(bench, plane),
             {}});
}

void stray_light_of(Bench& bench, const Plane& plane)
{
    constexpr double behind_degree = 95.0;
    if (!plane.readings.contains(0.0))
        return;
    const double reference = mean(plane.readings.at(0.0)) - plane.zero_lx;
    if (!(reference > 0.0))
        return;
    double worst = plane.screened.empty() ? 0.0 : (mean(plane.screened) - plane.zero_lx) / reference;
    std::string where = "with the beam screened";
    for (const auto& [angle, values] : plane.readings)
        if (const double share = (mean(values) - plane.zero_lx) / reference;
            std::abs(angle) > behind_degree && share > worst) {
            worst = share;
            where = fmt::format("at {}°", model::numeral(angle, 4));
        }
    if (worst > negligible_light)
        bench.raise({"stray-light",
                     RemarkSeverity::concern,
                     bench.run(plane.run).id,
                     fmt::format("{}: {} % of the reading at 0° {}", words_of(bench, plane),
                                 model::numeral(100.0 * worst, 2), where),
                     "light that does not come from the source adds to every angle; it is in no budget",
                     "baffle the beam and blacken what the sensor sees",
                     results_of_plane(bench, plane),
                     {}});
}

void wide_source_of(Bench& bench, const Plane& plane)
{
    constexpr double wide_degree = 3.0;
    const auto& diameter = bench.qualification().geometry.source_diameter;
    const auto distance = bench.distance_m(plane.run);
    if (!diameter || !distance || !(*distance > 0.0))
        return;
    const double subtends = degree_of(2.0 * std::atan(diameter->value / 2.0 / *distance));
    const double step = steps_of(plane).first;
    if (subtends > wide_degree || subtends > step)
        bench.raise(
            {"wide-source",
             RemarkSeverity::concern,
             bench.run(plane.run).id,
             fmt::format("{}: the source subtends {}°, the smallest step is {}°", words_of(bench, plane),
                         model::numeral(subtends, 3), model::numeral(step, 3)),
             "the angular response is blurred by the size of the source; it is in no budget",
             "stop the source down or move it away",
             results_of_plane(bench, plane),
             {}});
}

}  // namespace

void coarse_scan(Bench& bench)
{
    for_planes(bench, coarse_scan_of);
}

void zero_angle(Bench& bench)
{
    for_planes(bench, zero_angle_of);
}

void stray_light(Bench& bench)
{
    for_planes(bench, stray_light_of);
}

void wide_source(Bench& bench)
{
    for_planes(bench, wide_source_of);
}

}  // namespace luxdossier::practice
