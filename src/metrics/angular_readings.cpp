#include "metrics/angular_readings.hpp"

#include "model/numerals.hpp"
#include "statistics/summary.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Angle of a cell in degree, freed from the rounding of the conversion to rad and back.
double degree_of(double rad)
{
    const double rounded = std::round(rad * 180 / std::numbers::pi * 1e9) / 1e9;
    return rounded == 0 ? 0.0 : rounded;  // no minus zero
}

double cell(const model::Run& run, std::string_view column, std::uint32_t row)
{
    return run.table->number(column)->values.at(row);
}

/// Plane of a row in degree: column, condition, else 0.
double plane_of(const model::Run& run, std::uint32_t row)
{
    if (const auto condition = run.conditions.find("plane"); condition != run.conditions.end())
        if (const auto* quantity = std::get_if<model::ConditionQuantity>(&condition->second))
            return quantity->value;
    const auto* column = run.table->number("plane");
    return column == nullptr || std::isnan(column->values.at(row)) ? 0.0 : degree_of(column->values[row]);
}

bool screened(const model::Run& run, std::uint32_t row)
{
    const auto* column = run.table->number("screened");
    return column != nullptr && !std::isnan(column->values.at(row)) && column->values[row] != 0;
}

std::string place_of(const PlaneRows& plane, const AngleRows& angle)
{
    return fmt::format("plane={}degree/angle={}degree", plane.plane_degree, angle.angle_degree);
}

SetRequest request_of(const PlaneRows& plane, const AngleRows& angle, const std::string& column)
{
    SetRequest request;
    request.column = column;
    request.rows = angle.rows;
    request.identity = place_of(plane, angle);
    request.words = fmt::format("{} at {}°", column, model::numeral(angle.angle_degree, 6));
    if (plane.plane_degree != 0)
        request.words += fmt::format(", plane {}°", plane.plane_degree);
    request.symbol = column == "sensor" ? "D" : "M";
    request.place = fmt::format("plane {} deg, angle {} deg", plane.plane_degree, angle.angle_degree);
    return request;
}

/// Scatter of the readings at 0 of one plane, relative to their means: it serves single readings.
struct RelativeScatter {
    std::size_t n = 0;
    double sensor = 0, monitor = 0, covariance = 0;
};

std::vector<double> values_of(const model::Run& run, std::string_view column,
                              const std::vector<std::uint32_t>& rows)
{
    std::vector<double> values;
    for (const auto row : rows)
        values.push_back(cell(run, column, row));
    return values;
}

RelativeScatter scatter_at_zero(const model::Run& run, const PlaneRows& plane, bool monitored)
{
    RelativeScatter scatter;
    const auto* zero = plane.zero();
    if (zero == nullptr)
        return scatter;
    scatter.n = zero->rows.size();
    if (scatter.n < 3)
        return scatter;
    const auto sensor = values_of(run, "sensor", zero->rows);
    const auto of_sensor = statistics::summarise(sensor);
    scatter.sensor = of_sensor.standard_deviation / std::abs(of_sensor.mean);
    if (monitored) {
        const auto monitor = values_of(run, "monitor", zero->rows);
        const auto of_monitor = statistics::summarise(monitor);
        scatter.monitor = of_monitor.standard_deviation / std::abs(of_monitor.mean);
        scatter.covariance = statistics::covariance(sensor, monitor) / (of_sensor.mean * of_monitor.mean);
    }
    return scatter;
}

/// A single reading as a mean: its s is the relative s of the readings at 0, times the reading.
ReadingMean single_reading(Bench& bench, std::size_t run, const SetRequest& request, double relative_s,
                           std::size_t n_zero, const ReadingMean* at_zero)
{
    const auto& subject = bench.run(run);
    const double reading = cell(subject, request.column, request.rows.front());
    const auto identity = bench.run_identity(run) + "/" + request.identity + "/" + request.column;
    ReadingMean mean;
    mean.trail.runs.push_back(run);
    uncertainty::InputQuantity input;
    input.identity = identity + "/mean";
    input.quantity = request.words + ", one reading";
    input.symbol = request.symbol;
    input.unit = "lx";
    input.estimate = reading;
    input.evaluation = uncertainty::Evaluation::type_a;
    input.distribution = uncertainty::Distribution::student_t;
    model::ReadingSet set;
    if (n_zero >= 3 && std::isfinite(relative_s)) {
        input.standard_uncertainty = relative_s * std::abs(reading);
        input.degrees_of_freedom = static_cast<double>(n_zero - 1);
        input.note = fmt::format("relative standard deviation of the {} readings at 0°", n_zero);
    } else {
        set.undecided = "one reading, and fewer than three at 0° to tell its scatter";
    }
    mean.mean = bench.input(input);
    mean.total = mean.mean;
    if (at_zero != nullptr) {
        set.resolution = bench.set(at_zero->set).resolution;
        set.resolution_from_data = bench.set(at_zero->set).resolution_from_data;
    }
    if (set.resolution && input.standard_uncertainty < *set.resolution / 2) {
        const auto step = bench.rectangular(identity + "/resolution", request.words + ", resolution",
                                            "q_" + request.symbol, "lx", 0, *set.resolution / 2,
                                            fmt::format("step {} lx", model::numeral(*set.resolution, 4)));
        set.resolution_input = bench.builder().input_of(step);
        mean.total = mean.mean + step;
    } else if (set.undecided.empty() && input.standard_uncertainty == 0) {
        set.undecided =
            fmt::format("all readings of {} at 0° are equal and its resolution is not known", request.column);
    }
    if (!set.undecided.empty()) {
        mean.trail.undecide(fmt::format("run {}, {}: {}", subject.id, request.words, set.undecided));
        mean.trail.uncertainty_unknown = true;
    }
    set.run = run;
    set.column = request.column;
    set.rows = request.rows;
    set.place = request.place;
    set.n = 1;
    set.mean = reading;
    set.standard_deviation = set.standard_uncertainty = input.standard_uncertainty;
    set.degrees_of_freedom = std::isfinite(input.degrees_of_freedom) ? input.degrees_of_freedom : 0;
    set.pooled = set.undecided.empty();
    if (set.pooled && at_zero != nullptr)
        set.pool = {at_zero->set};
    set.input = bench.builder().input_of(mean.mean);
    mean.set = bench.add_set(std::move(set));
    mean.trail.sets.push_back(mean.set);
    return mean;
}

/// Single readings of one plane share one s: one Welch-Satterthwaite term.
void group_singles(Bench& bench, std::size_t run, const PlaneRows& plane,
                   const std::vector<const AngleMeans*>& singles, const RelativeScatter& scatter)
{
    uncertainty::InputGroup group;
    group.kind = uncertainty::InputGroup::Kind::pooled;
    group.identity =
        fmt::format("{}/plane={}degree/single-readings", bench.run_identity(run), plane.plane_degree);
    group.degrees_of_freedom = static_cast<double>(scatter.n - 1);
    std::vector<const ReadingMean*> means;
    for (const auto* single : singles) {
        means.push_back(&single->sensor);
        if (single->monitor)
            means.push_back(&*single->monitor);
    }
    const std::size_t size = means.size();
    if (size < 2)
        return;
    group.covariance.assign(size * size, 0.0);
    for (std::size_t i = 0; i < size; ++i) {
        const auto& set = bench.set(means[i]->set);
        group.members.push_back(*set.input);
        group.covariance[i * size + i] = set.standard_uncertainty * set.standard_uncertainty;
        // Sensor and monitor of one row stand side by side.
        if (set.column == "monitor") {
            const auto& sensor = bench.set(means[i - 1]->set);
            const double most = sensor.standard_uncertainty * set.standard_uncertainty;
            const double covariance = std::clamp(scatter.covariance * sensor.mean * set.mean, -most, most);
            group.covariance[i * size + i - 1] = group.covariance[(i - 1) * size + i] = covariance;
        }
    }
    bench.builder().group(std::move(group));
}

void add_singles(Bench& bench, std::size_t run, const PlaneRows& plane, std::vector<AngleMeans>& means)
{
    const bool monitored = has_monitor(bench, run);
    const auto scatter = scatter_at_zero(bench.run(run), plane, monitored);
    const AngleMeans* at_zero = nullptr;
    for (std::size_t i = 0; i < plane.angles.size(); ++i)
        if (plane.angles[i].angle_degree == 0 && plane.angles[i].rows.size() > 1)
            at_zero = &means[i];
    std::vector<const AngleMeans*> singles;
    for (std::size_t i = 0; i < plane.angles.size(); ++i) {
        const auto& angle = plane.angles[i];
        if (angle.rows.size() > 1)
            continue;
        means[i].sensor = single_reading(bench, run, request_of(plane, angle, "sensor"), scatter.sensor,
                                         scatter.n, at_zero == nullptr ? nullptr : &at_zero->sensor);
        if (monitored)
            means[i].monitor =
                single_reading(bench, run, request_of(plane, angle, "monitor"), scatter.monitor, scatter.n,
                               at_zero == nullptr ? nullptr : &*at_zero->monitor);
        singles.push_back(&means[i]);
    }
    const bool known =
        std::isfinite(scatter.sensor) && std::isfinite(scatter.monitor) && std::isfinite(scatter.covariance);
    if (scatter.n >= 3 && known)
        group_singles(bench, run, plane, singles, scatter);
}

}  // namespace

bool has_monitor(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    return subject.table && subject.table->number("monitor") != nullptr;
}

const AngleRows* PlaneRows::zero() const
{
    const auto found = std::ranges::find(angles, 0.0, &AngleRows::angle_degree);
    return found == angles.end() ? nullptr : &*found;
}

std::vector<PlaneRows> plane_rows_of(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    std::map<double, PlaneRows> planes;
    std::map<double, std::map<double, AngleRows>> angles;
    if (!subject.table || subject.table->number("angle") == nullptr ||
        subject.table->number("sensor") == nullptr)
        return {};
    const bool monitored = has_monitor(bench, run);
    double block_of = std::nan("");  // the plane whose series at 0 the last row belonged to
    for (const auto row : subject.rows) {
        const double angle_rad = cell(subject, "angle", row);
        if (screened(subject, row) || std::isnan(angle_rad) || std::isnan(cell(subject, "sensor", row)) ||
            (monitored && std::isnan(cell(subject, "monitor", row))))
            continue;
        const double plane = plane_of(subject, row);
        const double angle = degree_of(angle_rad);
        auto& at = angles[plane][angle];
        at.angle_degree = angle;
        at.rows.push_back(row);
        if (angle == 0) {
            auto& blocks = planes[plane].zero_blocks;
            if (block_of != plane)
                blocks.emplace_back();
            blocks.back().push_back(row);
            block_of = plane;
        } else {
            block_of = std::nan("");
        }
    }
    std::vector<PlaneRows> found;
    for (auto& [plane, at] : angles) {
        auto& rows = planes[plane];
        rows.plane_degree = plane;
        for (auto& [angle, angle_rows] : at)
            rows.angles.push_back(std::move(angle_rows));
        found.push_back(std::move(rows));
    }
    return found;
}

std::vector<std::vector<AngleMeans>> angle_means(Bench& bench, std::size_t run,
                                                 const std::vector<PlaneRows>& planes)
{
    const bool monitored = has_monitor(bench, run);
    std::vector<std::vector<AngleMeans>> means(planes.size());
    std::vector<SetRequest> sensor, monitor;
    std::vector<AngleMeans*> where;
    for (std::size_t p = 0; p < planes.size(); ++p) {
        means[p].resize(planes[p].angles.size());
        for (std::size_t i = 0; i < planes[p].angles.size(); ++i) {
            if (planes[p].angles[i].rows.size() < 2)
                continue;
            sensor.push_back(request_of(planes[p], planes[p].angles[i], "sensor"));
            monitor.push_back(request_of(planes[p], planes[p].angles[i], "monitor"));
            where.push_back(&means[p][i]);
        }
    }
    if (monitored) {
        const auto pairs = pairs_of(bench, run, sensor, monitor);
        for (std::size_t i = 0; i < where.size(); ++i)
            *where[i] = {pairs[i].first, pairs[i].second};
    } else {
        const auto found = means_of(bench, run, sensor);
        for (std::size_t i = 0; i < where.size(); ++i)
            *where[i] = {found[i], std::nullopt};
    }
    for (std::size_t p = 0; p < planes.size(); ++p)
        add_singles(bench, run, planes[p], means[p]);
    return means;
}

}  // namespace luxdossier::metrics
