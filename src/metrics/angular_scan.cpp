#include "metrics/angular_scan.hpp"

#include "metrics/angular_readings.hpp"
#include "metrics/illuminance.hpp"
#include "metrics/zeros.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double rad_per_degree = std::numbers::pi / 180;

/// What the angles of one plane share.
struct PlaneInputs {
    std::optional<Traced> zero;  ///< the product's capped reading
    std::optional<Expression> eccentricity, drift, stage_zero, stage_scale;
    double distance_m = 0;
};

std::optional<Traced> zero_of(Bench& bench, std::size_t run, Trail& trail)
{
    auto zeros = zeros_of(bench, run);
    trail.add(zeros.trail);
    if (zeros.sensor)
        return zeros.sensor;
    return capped_zero(bench, run, "sensor");
}

/// (D - zero), over the monitor where one was logged.
Expression net_response(const AngleMeans& means, const PlaneInputs& inputs)
{
    auto net = means.sensor.total;
    if (inputs.zero)
        net = net - inputs.zero->value;
    if (means.monitor)
        net = net / means.monitor->total;
    return net;
}

/// The same of one block of readings at 0, as a number.
double net_of_block(const Bench& bench, std::size_t run, const std::vector<std::uint32_t>& rows,
                    const PlaneInputs& inputs)
{
    const auto& table = *bench.run(run).table;
    const auto mean = [&](std::string_view column) {
        double sum = 0;
        for (const auto row : rows)
            sum += table.number(column)->values.at(row);
        return sum / static_cast<double>(rows.size());
    };
    const double net = mean("sensor") - (inputs.zero ? inputs.zero->value.value() : 0.0);
    return has_monitor(bench, run) ? net / mean("monitor") : net;
}

PlaneInputs inputs_of(Bench& bench, PlaneScan& scan)
{
    PlaneInputs inputs;
    inputs.zero = zero_of(bench, scan.run, scan.trail);
    if (inputs.zero)
        scan.trail.add(inputs.zero->trail);
    const auto& geometry = bench.qualification().geometry;
    if (geometry.stage_zero)
        inputs.stage_zero =
            bench.stated(scan.identity + "/stage_zero", "stage zero and mounting, " + scan.words, "theta_0",
                         *geometry.stage_zero);
    if (geometry.stage_scale)
        inputs.stage_scale =
            bench.stated("geometry/stage_scale", "stage scale", "s_theta", *geometry.stage_scale);
    const auto distance = distance_m(bench, scan.run);
    if (geometry.eccentricity && distance && *distance > 0) {
        inputs.distance_m = *distance;
        inputs.eccentricity = bench.stated(scan.identity + "/eccentricity", "eccentricity, " + scan.words,
                                           "c", *geometry.eccentricity);
    } else if (geometry.eccentricity) {
        scan.trail.undecide(
            fmt::format("run {}: an eccentricity is stated, but no distance that tells what it does",
                        bench.run(scan.run).id));
        scan.trail.uncertainty_unknown = true;
    }
    return inputs;
}

/// Drift of what was read at 0 between start and return, one factor on every angle but the reference.
void add_drift(Bench& bench, PlaneScan& scan, const PlaneRows& rows, double reference, PlaneInputs& inputs)
{
    if (rows.zero_blocks.size() < 2)
        return;
    const double first = net_of_block(bench, scan.run, rows.zero_blocks.front(), inputs);
    const double last = net_of_block(bench, scan.run, rows.zero_blocks.back(), inputs);
    if (!std::isfinite(first) || !std::isfinite(last))
        return;  // a monitor at zero: the curve says so
    inputs.drift =
        bench.rectangular(scan.identity + "/drift", "source, start and return zero, " + scan.words, "x", "1",
                          0, std::abs(last - first) / (2 * reference),
                          "half of the change between the first and the last readings at 0°", true);
}

std::size_t reference_index(const Bench& bench, const PlaneScan& scan, const std::vector<Expression>& nets)
{
    const auto* configuration = bench.qualification().configuration(bench.run(scan.run).configuration);
    const auto at_zero = std::ranges::find(scan.angle_degree, 0.0) - scan.angle_degree.begin();
    if (configuration == nullptr || !configuration->reference_is_peak)
        return static_cast<std::size_t>(at_zero);
    const auto peak = std::ranges::max_element(nets, {}, [](const Expression& net) { return net.value(); });
    return static_cast<std::size_t>(peak - nets.begin());
}

/// Why the angles and responses make no curve, or empty text.
std::string fault_of_curve(const PlaneScan& scan)
{
    for (std::size_t i = 0; i < scan.rho.size(); ++i) {
        if (!std::isfinite(scan.rho[i].value()))
            return fmt::format("the response at {}° is no finite number (its monitor reads zero)",
                               scan.angle_degree[i]);
        if (i > 0 && !(scan.theta[i].value() > scan.theta[i - 1].value()))
            return "the scale of the stage turns the order of the angles";
    }
    return {};
}

void build_curve(Bench& bench, PlaneScan& scan, const PlaneRows& rows, const std::vector<AngleMeans>& means)
{
    auto inputs = inputs_of(bench, scan);
    std::vector<Expression> nets;
    for (const auto& mean : means)
        nets.push_back(net_response(mean, inputs));
    scan.reference = reference_index(bench, scan, nets);
    const auto reference = nets[scan.reference].named("D_ref");
    if (!std::isfinite(reference.value())) {
        scan.fault = fmt::format("the monitor reads zero at the reference angle of {}°",
                                 scan.angle_degree[scan.reference]);
        return;
    }
    if (!(reference.value() > 0)) {
        scan.fault = fmt::format("the reading at the reference angle of {}° is not above its zero",
                                 scan.angle_degree[scan.reference]);
        return;
    }
    add_drift(bench, scan, rows, reference.value(), inputs);
    const auto trail_of = [&](std::size_t i) {
        auto trail = scan.trail;
        for (const auto j : {i, scan.reference}) {
            trail.add(means[j].sensor.trail);
            if (means[j].monitor)
                trail.add(means[j].monitor->trail);
        }
        return trail;
    };
    for (std::size_t i = 0; i < means.size(); ++i) {
        const double nominal_rad = scan.angle_degree[i] * rad_per_degree;
        auto theta = bench.constant(nominal_rad);
        if (inputs.stage_scale && nominal_rad != 0)
            theta = theta * (1.0 + *inputs.stage_scale);
        if (inputs.stage_zero)
            theta = theta + *inputs.stage_zero;
        scan.theta.push_back(theta);
        scan.trails.push_back(trail_of(i));
        if (i == scan.reference) {
            scan.rho.push_back(bench.constant(1.0));
            continue;
        }
        auto rho = nets[i] / reference;
        if (inputs.eccentricity && nominal_rad != 0)
            rho = rho * (1.0 + *inputs.eccentricity * (2 * std::sin(nominal_rad) / inputs.distance_m));
        if (inputs.drift)
            rho = rho * (1.0 + *inputs.drift);
        scan.rho.push_back(rho);
    }
    for (const auto& trail : scan.trails)
        scan.trail.add(trail);
    scan.fault = fault_of_curve(scan);
}

}  // namespace

std::vector<PlaneScan> scan_planes(Bench& bench, std::size_t run)
{
    const auto planes = plane_rows_of(bench, run);
    const auto means = angle_means(bench, run, planes);
    std::vector<PlaneScan> scans;
    for (std::size_t p = 0; p < planes.size(); ++p) {
        PlaneScan scan;
        scan.run = run;
        scan.sample = bench.run(run).sample;
        scan.plane_degree = planes[p].plane_degree;
        scan.conditions = bench.conditions_of(run);
        scan.conditions["plane"] = model::ConditionQuantity{scan.plane_degree, "degree"};
        scan.identity = fmt::format("{}/plane={}degree", bench.run_identity(run), scan.plane_degree);
        scan.words = fmt::format("plane {}°", scan.plane_degree);
        scan.trail.runs = {run};
        for (const auto& angle : planes[p].angles)
            scan.angle_degree.push_back(angle.angle_degree);
        if (planes[p].zero() == nullptr)
            scan.fault = "the scan has no reading at 0°";
        else if (planes[p].angles.size() < 2)
            scan.fault = "the scan has readings at one angle only";
        else
            build_curve(bench, scan, planes[p], means[p]);
        scans.push_back(std::move(scan));
    }
    return scans;
}

}  // namespace luxdossier::metrics
