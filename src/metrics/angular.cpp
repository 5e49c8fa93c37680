#include "metrics/angular_scan.hpp"
#include "metrics/families.hpp"
#include "metrics/figures.hpp"
#include "model/numerals.hpp"
#include "photometry/curve.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double degree_per_rad = 180 / std::numbers::pi;
constexpr double percent = 100;
constexpr double half = 0.5;

model::Result result_of(const PlaneScan& scan, std::string metric, std::string unit)
{
    model::Result result;
    result.metric = std::move(metric);
    result.sample = scan.sample;
    result.conditions = scan.conditions;
    result.unit = std::move(unit);
    return result;
}

model::Result at_angle(const PlaneScan& scan, std::string metric, std::string unit, double angle_degree)
{
    auto result = result_of(scan, std::move(metric), std::move(unit));
    result.conditions["angle"] = model::ConditionQuantity{angle_degree, "degree"};
    return result;
}

const model::Configuration* configuration_of(const Bench& bench, const PlaneScan& scan)
{
    return bench.qualification().configuration(bench.run(scan.run).configuration);
}

/// Angles and responses of the curve at the estimates.
photometry::MonotoneCubic curve_of(const PlaneScan& scan)
{
    std::vector<double> x, y;
    for (std::size_t i = 0; i < scan.theta.size(); ++i) {
        x.push_back(scan.theta[i].value());
        y.push_back(scan.rho[i].value());
    }
    return {x, y};
}

std::vector<Expression> curve_arguments(const PlaneScan& scan)
{
    auto arguments = scan.theta;
    arguments.insert(arguments.end(), scan.rho.begin(), scan.rho.end());
    return arguments;
}

// ---- Single angles
// ---------------------------------------------------------------------------------------------

/// A target curve from a file; one that begins at 0 or above stands for both sides.
photometry::MonotoneCubic target_of(const model::CurveFile& file)
{
    std::vector<double> x, y;
    x.reserve(2 * file.x.size());
    y.reserve(2 * file.x.size());
    const bool one_sided = !file.x.empty() && file.x.front() >= 0;
    for (std::size_t i = file.x.size(); one_sided && i-- > 0;)
        if (file.x[i] != 0) {
            x.push_back(-file.x[i]);
            y.push_back(file.y[i]);
        }
    x.insert(x.end(), file.x.begin(), file.x.end());
    y.insert(y.end(), file.y.begin(), file.y.end());
    return {x, y};
}

/// Reads the target at an angle: the cosine, or the curve of a file within its range.
class Target {
public:
    explicit Target(const model::Configuration* configuration)
    {
        cosine_ = configuration != nullptr && configuration->target_is_cosine;
        if (configuration != nullptr && configuration->target && configuration->target->x.size() >= 2)
            curve_ = target_of(*configuration->target);
    }
    [[nodiscard]] std::optional<Expression> at(Bench& bench, const Expression& theta) const
    {
        if (cosine_)
            return cosine(theta);
        constexpr double slack = 1e-9;
        if (!curve_ || theta.value() < curve_->x().front() - slack ||
            theta.value() > curve_->x().back() + slack)
            return std::nullopt;
        return bench.builder().estimate(photometry::target_estimator(*curve_), {&theta, 1}).front();
    }

private:
    bool cosine_ = false;
    std::optional<photometry::MonotoneCubic> curve_;
};

void add_single_angles(Bench& bench, const PlaneScan& scan)
{
    const Target target(configuration_of(bench, scan));
    for (std::size_t i = 0; i < scan.angle_degree.size(); ++i) {
        const double angle = scan.angle_degree[i];
        if (i == scan.reference || angle == 0)
            continue;
        bench.add(at_angle(scan, "angular_response", "1", angle), {scan.rho[i], scan.trails[i]});
        if (const auto wanted = target.at(bench, scan.theta[i]))
            bench.add(at_angle(scan, "angular_deviation", "%", angle),
                      {(scan.rho[i] - *wanted) * percent, scan.trails[i]});
        const auto opposite = std::ranges::find(scan.angle_degree, -angle);
        if (angle > 0 && opposite != scan.angle_degree.end()) {
            const auto j = static_cast<std::size_t>(opposite - scan.angle_degree.begin());
            auto trail = scan.trails[i];
            trail.add(scan.trails[j]);
            bench.add(at_angle(scan, "angular_asymmetry", "%", angle),
                      {(scan.rho[i] / scan.rho[j] - 1.0) * percent, trail});
        }
    }
}

// ---- Half-response angles
// ----------------------------------------------------------------------------------------

/// A crossing of 50 % on one side: its signed angle in rad.
struct Crossing {
    std::string which;  ///< "innermost" or "outermost" where a side has several
    Expression angle;
};

struct Side {
    std::string name;
    bool negative = false;
    std::vector<Crossing> crossings;   ///< innermost and, where there are several, outermost
    std::string reason;                ///< why there is none
    std::optional<double> end_degree;  ///< of the scan on that side
};

Expression crossing_angle(Bench& bench, const PlaneScan& scan, const photometry::MonotoneCubic& curve,
                          std::size_t index, double at, const std::string& name)
{
    const auto arguments = curve_arguments(scan);
    const auto cubic =
        bench.builder().estimate(photometry::crossing_estimator(half, index), arguments).front();
    const double chord = curve.chord_crossing(at, half).value_or(at);
    const auto words = fmt::format("interpolation at the {} crossing, {}", name, scan.words);
    auto slug = name;
    std::ranges::replace(slug, ' ', '-');
    const auto interpolation =
        bench.rectangular(scan.identity + "/crossing=" + slug + "/interpolation", words, "delta_i", "rad", 0,
                          std::abs(at - chord), "half-width: monotone cubic less straight line", true);
    return cubic + interpolation;
}

Side side_of(Bench& bench, const PlaneScan& scan, const photometry::MonotoneCubic& curve, bool negative)
{
    Side side;
    side.negative = negative;
    side.name = negative ? "negative" : "positive";
    const double end = negative ? scan.angle_degree.front() : scan.angle_degree.back();
    if (negative ? end < 0 : end > 0)
        side.end_degree = std::abs(end);
    const auto found = curve.crossings(half);
    std::vector<std::size_t> indices;  // innermost first
    for (std::size_t i = 0; i < found.size(); ++i)
        if (negative ? found[i] < 0 : found[i] > 0)
            indices.push_back(i);
    if (negative)
        std::ranges::reverse(indices);
    if (indices.empty()) {
        side.reason = side.end_degree
                          ? fmt::format("50 % is not reached inside the scan: response {} at {}°",
                                        model::numeral(negative ? curve.y().front() : curve.y().back(), 3),
                                        model::numeral(end, 6))
                          : fmt::format("the scan has no reading on the {} side", side.name);
        return side;
    }
    const auto add = [&](std::size_t index, std::string which) {
        const double at = found[index];
        if (curve.derivative(at) == 0) {
            side.reason = "the response is level where it meets 50 %";
            return;
        }
        const auto name = which.empty() ? side.name : which + " " + side.name;
        side.crossings.push_back({std::move(which), crossing_angle(bench, scan, curve, index, at, name)});
    };
    add(indices.front(), indices.size() > 1 ? "innermost" : "");
    if (indices.size() > 1)
        add(indices.back(), "outermost");
    if (!side.reason.empty())
        side.crossings.clear();
    return side;
}

void add_half_angles(Bench& bench, const PlaneScan& scan, const Side& side)
{
    auto result = result_of(scan, "half_response_angle", "degree");
    result.conditions["side"] = side.name;
    if (side.crossings.empty()) {
        auto trail = scan.trail;
        trail.undecided.insert(trail.undecided.begin(), side.reason);
        result.without_recipe = "the scan ends before the response falls to one half";
        if (side.end_degree)
            bench.add_value(std::move(result), *side.end_degree, trail);
        else
            bench.add_undecided(std::move(result), side.reason, trail);
        return;
    }
    for (const auto& crossing : side.crossings) {
        auto one = result;
        if (!crossing.which.empty())
            one.conditions["crossing"] = crossing.which;
        const auto degree = crossing.angle * (side.negative ? -degree_per_rad : degree_per_rad);
        bench.add(std::move(one), {degree.named(side.negative ? "theta_neg" : "theta_pos"), scan.trail});
    }
}

const Crossing& crossing_named(const Side& side, const std::string& which)
{
    const auto found = std::ranges::find(side.crossings, which, &Crossing::which);
    return found == side.crossings.end() ? side.crossings.front() : *found;
}

void add_field_of_view(Bench& bench, const PlaneScan& scan, const Side& negative, const Side& positive)
{
    if (negative.crossings.empty() || positive.crossings.empty()) {
        const auto& reason = negative.crossings.empty() ? negative.reason : positive.reason;
        bench.add_undecided(result_of(scan, "field_of_view", "degree"), reason, scan.trail);
        bench.add_undecided(result_of(scan, "boresight_offset", "degree"), reason, scan.trail);
        return;
    }
    const bool several = negative.crossings.size() > 1 || positive.crossings.size() > 1;
    for (const std::string which : {"innermost", "outermost"}) {
        const auto& low = crossing_named(negative, which).angle;
        const auto& high = crossing_named(positive, which).angle;
        auto field = result_of(scan, "field_of_view", "degree");
        auto offset = result_of(scan, "boresight_offset", "degree");
        if (several)
            field.conditions["crossing"] = offset.conditions["crossing"] = which;
        bench.add(std::move(field), {(high - low) * degree_per_rad, scan.trail});
        bench.add(std::move(offset), {(high + low) * (degree_per_rad / 2), scan.trail});
        if (!several)
            break;
    }
}

// ---- Directional response index
// ------------------------------------------------------------------------------------

std::optional<Traced> add_directional_index(Bench& bench, const PlaneScan& scan,
                                            const photometry::MonotoneCubic& curve)
{
    auto result = result_of(scan, "directional_index", "%");
    constexpr double slack = 1e-9;
    const double limit = photometry::directional_index_limit_rad;
    if (curve.x().front() > -limit + slack || curve.x().back() < limit - slack) {
        bench.add_undecided(std::move(result),
                            fmt::format("the scan reaches from {}° to {}°, the index needs −80° to 80°",
                                        model::numeral(scan.angle_degree.front(), 6),
                                        model::numeral(scan.angle_degree.back(), 6)),
                            scan.trail);
        return std::nullopt;
    }
    const auto index =
        bench.builder().estimate(photometry::directional_index_estimator(), curve_arguments(scan)).front() *
        percent;
    const Traced traced{index.named("f_2"), scan.trail};
    bench.add(std::move(result), traced);
    return traced;
}

bool wants_index(const Bench& bench, const PlaneScan& scan)
{
    const auto* configuration = configuration_of(bench, scan);
    return configuration != nullptr && configuration->target_is_cosine;
}

void add_faulty(Bench& bench, const PlaneScan& scan)
{
    for (const auto* side : {"negative", "positive"}) {
        auto result = result_of(scan, "half_response_angle", "degree");
        result.conditions["side"] = std::string(side);
        bench.add_undecided(std::move(result), scan.fault, scan.trail);
    }
    bench.add_undecided(result_of(scan, "field_of_view", "degree"), scan.fault, scan.trail);
    bench.add_undecided(result_of(scan, "boresight_offset", "degree"), scan.fault, scan.trail);
    if (wants_index(bench, scan))
        bench.add_undecided(result_of(scan, "directional_index", "%"), scan.fault, scan.trail);
}

/// Indices of the planes that belong together: same sample and conditions but the plane.
struct PlaneIndex {
    double plane_degree = 0;
    std::size_t run = 0;
    PlaneScan scan;
    std::optional<Traced> index;
};
using Families = std::map<std::string, std::vector<PlaneIndex>>;

void add_mean_of(Bench& bench, const std::vector<PlaneIndex>& planes)
{
    if (planes.size() < 2)
        return;
    auto result = result_of(planes.front().scan, "directional_index", "%");
    result.conditions["plane"] = std::string("mean");
    Trail trail;
    std::optional<Expression> sum;
    for (const auto& plane : planes) {
        trail.add(plane.scan.trail);
        if (!plane.index) {
            bench.add_undecided(
                std::move(result),
                fmt::format("plane {}° has no directional response index", plane.plane_degree), trail);
            return;
        }
        sum = sum ? *sum + plane.index->value : plane.index->value;
    }
    bench.add(std::move(result), {*sum / static_cast<double>(planes.size()), trail});
}

/// Mean over the planes, in whatever runs they were read; where a plane was read twice, over the planes of
/// each run.
void add_means(Bench& bench, const Families& all)
{
    for (const auto& [key, planes] : all) {
        std::map<double, std::size_t> times;
        std::map<std::size_t, std::vector<PlaneIndex>> by_run;
        for (const auto& plane : planes) {
            ++times[plane.plane_degree];
            by_run[plane.run].push_back(plane);
        }
        if (times.size() == planes.size()) {
            add_mean_of(bench, planes);
            continue;
        }
        for (const auto& [run, of_run] : by_run)
            add_mean_of(bench, of_run);
    }
}

void evaluate_angular(Bench& bench)
{
    Families indices;
    for (const auto run : bench.runs_of(model::RunKind::angular))
        for (const auto& scan : scan_planes(bench, run)) {
            std::optional<Traced> index;
            if (!scan.fault.empty()) {
                add_faulty(bench, scan);
            } else {
                const auto curve = curve_of(scan);
                add_single_angles(bench, scan);
                const auto negative = side_of(bench, scan, curve, true);
                const auto positive = side_of(bench, scan, curve, false);
                add_half_angles(bench, scan, negative);
                add_half_angles(bench, scan, positive);
                add_field_of_view(bench, scan, negative, positive);
                if (wants_index(bench, scan))
                    index = add_directional_index(bench, scan, curve);
            }
            if (!wants_index(bench, scan))
                continue;
            auto conditions = scan.conditions;
            conditions.erase("plane");
            indices[model::result_id("", scan.sample, conditions)].push_back(
                {scan.plane_degree, scan.run, scan, std::move(index)});
        }
    add_means(bench, indices);
}

std::vector<model::MetricInfo> metrics_of_family()
{
    const std::vector<std::string> plane{"configuration", "source", "plane"};
    const std::vector<std::string> side{"configuration", "source", "plane", "side"};
    const std::vector<std::string> angle{"configuration", "source", "plane", "angle"};
    return {
        {"half_response_angle", "Half-response angle", "degree", "theta_50", side, true,
         "Angle at which the response has fallen to half of the reference, on one side of 0, always "
         "positive."},
        {"field_of_view", "Field of view", "degree", "FOV", plane, true,
         "Angle between the half-response angles of both sides."},
        {"boresight_offset", "Boresight offset", "degree", "theta_b", plane, true,
         "Middle between the half-response angles, signed."},
        {"directional_index", "Directional response index", "%", "f_2", plane, true,
         "Deviation from the cosine, weighted with the sine of twice the angle, up to 80 degrees; mean of "
         "both sides."},
        {"angular_response", "Angular response", "1", "rho", angle, true,
         "Reading at an angle over the reading at the reference, both less their zero."},
        {"angular_deviation", "Deviation from the angular target", "%", "Delta_rho", angle, true,
         "Angular response less the target at that angle."},
        {"angular_asymmetry", "Angular asymmetry", "%", "a_theta", angle, true,
         "Response at a positive angle over that at the same negative angle, less 1."},
    };
}

}  // namespace

Family angular_family()
{
    Family family;
    auto& info = family.info;
    info.id = "angular";
    info.title = "Angular response";
    info.question = "How does the product see light from the side, and where does it look?";
    info.method = "The product was turned on the stage in front of a steady source; readings with the beam "
                  "screened are left out. Each "
                  "reading less its zero is divided by the reference, the mean of all readings at 0 degrees "
                  "(start and return "
                  "included) or, where the configuration says so, the largest mean, and by the monitor where "
                  "one was logged. A "
                  "monotone cubic (inner slopes the weighted harmonic mean of the secants, end slopes the "
                  "secants) joins the angles of "
                  "a plane; half-response angles are its crossings of 50 %, and the directional response "
                  "index is integrated over it. "
                  "Stage zero, stage scale and eccentricity enter as inputs where the geometry states them.";
    info.formulas = {
        "rho(theta) = (D(theta) - D_0)/(D_ref - D_0) (1 + 2 c sin(theta)/d) (1 + x)",
        "theta = theta_nominal (1 + s_theta) + theta_0",
        "f_2 = 2 \u222B |rho - cos(theta)| sin(theta) d theta from 0° to 80°, mean of both sides",
        "FOV = theta_pos + theta_neg; theta_b = (theta_pos - theta_neg)/2"};
    info.metrics = metrics_of_family();
    family.evaluate = evaluate_angular;
    family.figures = angular_figures;
    return family;
}

}  // namespace luxdossier::metrics
