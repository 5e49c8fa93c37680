#include "small_bench.hpp"

#include "metrics/metrics.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <memory>
#include <numbers>

namespace luxdossier::test {
namespace {

/// Scatter without trend, outlier or memory: of the order of 1, different for each device.
double scatter(std::size_t index, bool meter)
{
    constexpr double pattern[] = {1.0, -0.7, 0.4, -1.1, 0.9, -0.3, 0.6, -1.0, 0.8, -0.6};
    const auto at = meter ? (index * 3 + 1) % 10 : index % 10;
    return pattern[at];
}

model::Meter make_meter()
{
    model::Meter meter;
    meter.id = "M1";
    meter.description = "illuminance meter";
    meter.resolution_lx = 0.001;
    model::Certificate certificate;
    certificate.number = "K-1";
    certificate.laboratory = "calibration laboratory";
    certificate.accreditation = "accredited";
    certificate.traceable_to = "national standard";
    certificate.issued = std::chrono::sys_days{std::chrono::year{2025} / 1 / 10};
    certificate.recall = std::chrono::sys_days{std::chrono::year{2026} / 1 / 10};
    certificate.calibration_source_kind = "incandescent";
    certificate.calibration_colour_temperature_k = 2856;
    certificate.temperature.emplace().value = 296.15;
    certificate.coverage_probability = 0.9545;
    for (const double level : {1.0, 100.0, 10000.0})
        certificate.points.push_back({level, 1.0, 0.012, ""});
    certificate.common_relative_expanded_uncertainty = 0.01;
    meter.certificate = certificate;
    meter.annual_drift_per_year = 0.003;
    meter.linearity = 0.002;
    meter.range_change = 0.001;
    meter.mismatch_index = 0.015;
    meter.directional_index = 0.015;
    return meter;
}

}  // namespace

model::Quantity stated(double value, const std::string& unit, double standard_uncertainty)
{
    model::Quantity quantity;
    quantity.value = quantity.written_value = value;
    quantity.unit = quantity.written_unit = unit;
    quantity.standard_uncertainty = standard_uncertainty;
    return quantity;
}

model::TimePoint at(int day, double hours)
{
    const std::chrono::sys_days date{std::chrono::year{2025} / 3 / day};
    return {static_cast<double>(date.time_since_epoch().count()) * 86400.0 + hours * 3600.0};
}

SmallBench::SmallBench()
{
    auto& q = qualification;
    q.document.number = "T-1";
    q.document.title = "test bench";
    q.document.environment.temperature.stated = stated(296.15, "K", 0.5);
    q.document.environment.humidity.stated = stated(0.45, "1", 0.05);
    q.product.resolution = stated(0.001, "lx");
    q.product.ceiling = stated(1e5, "lx");
    for (const char* id : {"S1", "S2", "S3", "S4", "S5"})
        q.samples.push_back({id, {}, {}, {}, {}});
    q.configurations.emplace_back();
    q.configurations.back().id = "bare";
    q.configurations.back().applied_factor = 1.0;
    q.configurations.back().target_is_cosine = true;
    q.reference_configuration = "bare";
    q.reference_source = "led";
    q.meters.push_back(make_meter());
    model::Source led;
    led.id = "led";
    led.supply = "dc";
    led.settling_tolerance = 0.005;
    q.sources.push_back(led);
    q.geometry.distance = stated(1.0, "m");
    q.geometry.plane_offset = stated(0.0, "m", 0.0005);
    q.geometry.source_diameter = stated(0.05, "m");
    q.geometry.sensor_diameter = stated(0.01, "m");
    q.geometry.eccentricity = stated(0.0, "m", 0.0003);
    q.geometry.stage_zero = stated(0.0, "rad", 0.002);
    q.geometry.stage_scale = stated(0.0, "1", 0.0005);
    q.evaluation.settling_window_s = 900;

    Columns dark, log, position, map;
    for (std::size_t index = 0; index < 10; ++index) {
        dark["sensor"].push_back(0.002 + 0.002 * scatter(index, false));
        dark["meter"].push_back(0.001 * std::round(2.0 + scatter(index, true)));
    }
    add_run(model::RunKind::dark, "dark", dark).conditions["light"] = std::string("capped");
    run("dark").sample = "S1";
    run("dark").configuration = "bare";
    for (std::size_t index = 0; index <= 360; ++index) {
        const double time = 10.0 * static_cast<double>(index);
        log["time"].push_back(time);
        log["meter"].push_back(500.0 * (1.0 + 0.05 * std::exp(-time / 300.0) + 2e-5 * scatter(index, true)));
    }
    add_run(model::RunKind::warm_up, "warm-up", log).started = at(10, 8);
    for (std::size_t index = 0; index < 30; ++index)
        position["meter"].push_back((index / 10 == 1 ? 99.0 : 100.0) + 0.02 * scatter(index, true));
    add_run(model::RunKind::position, "position", position).configuration = "bare";
    run("position").dark_run = "dark";
    set_places("position", 10);
    const std::vector<std::pair<double, double>> places{
        {0, 0}, {0.004, 0}, {-0.004, 0}, {0, 0.004}, {0, -0.004}};
    for (const auto& [x, y] : places)
        for (std::size_t index = 0; index < 10; ++index) {
            map["x"].push_back(x);
            map["y"].push_back(y);
            map["meter"].push_back(100.0 * (1.0 - 80.0 * (x * x + y * y)) + 0.02 * scatter(index, true));
        }
    add_run(model::RunKind::field_map, "map", map).configuration = "bare";
    run("map").dark_run = "dark";
    add_levels("levels", {10, 100, 1000}, 1.01);
    limits.rule.kind = model::RuleKind::simple_acceptance;
}

model::Run& SmallBench::run(const std::string& id)
{
    return *std::ranges::find(qualification.runs, id, &model::Run::id);
}

void SmallBench::remove_run(const std::string& id)
{
    std::erase_if(qualification.runs, [&](const model::Run& candidate) { return candidate.id == id; });
}

model::Run& SmallBench::add_run(model::RunKind kind, const std::string& id, const Columns& columns)
{
    model::Run added;
    added.id = id;
    added.kind = kind;
    added.meter = "M1";
    added.source = kind == model::RunKind::dark ? "" : "led";
    added.started = at(11, 9);
    auto table = std::make_shared<model::Table>();
    for (const auto& [meaning, values] : columns) {
        table->numbers.push_back({meaning, meaning, "", "", values});
        table->rows = values.size();
    }
    for (std::uint32_t row = 0; row < table->rows; ++row)
        added.rows.push_back(row);
    added.time_ordered = kind == model::RunKind::comparison || kind == model::RunKind::warm_up;
    added.table = table;
    qualification.runs.push_back(std::move(added));
    return qualification.runs.back();
}

std::vector<double>& SmallBench::column(const std::string& id, const std::string& meaning)
{
    auto table = std::make_shared<model::Table>(*run(id).table);
    run(id).table = table;
    return std::ranges::find(table->numbers, meaning, &model::NumberColumn::meaning)->values;
}

void SmallBench::set_places(const std::string& id, std::size_t each)
{
    auto table = std::make_shared<model::Table>(*run(id).table);
    model::TextColumn places{"place", "place", {"reference", "sensor"}, {}};
    for (std::uint32_t row = 0; row < table->rows; ++row)
        places.values.push_back(row / each == 1 ? 1 : 0);
    table->texts.push_back(places);
    run(id).table = table;
}

model::Run& SmallBench::add_levels(const std::string& id, const std::vector<double>& levels, double response,
                                   std::size_t n)
{
    Columns columns;
    for (const double level : levels)
        for (std::size_t index = 0; index < n; ++index) {
            columns["time"].push_back(static_cast<double>(columns["time"].size()));
            columns["level"].push_back(level);
            columns["sensor"].push_back(level * response * (1.0 + 0.002 * scatter(index, false)));
            columns["meter"].push_back(level / 0.99 * (1.0 + 0.001 * scatter(index, true)));
        }
    auto& added = add_run(model::RunKind::comparison, id, columns);
    added.sample = "S1";
    added.configuration = "bare";
    added.method = model::Method::side_by_side;
    added.position_runs = {"position"};
    added.dark_run = "dark";
    return added;
}

model::Run& SmallBench::add_scan(const std::string& id, double to_degree, double step_degree)
{
    Columns columns;
    const auto read = [&](double degree) {
        const double rad = degree * std::numbers::pi / 180.0;
        columns["angle"].push_back(rad);
        columns["screened"].push_back(0);
        columns["sensor"].push_back(std::max(0.0, 100.0 * std::cos(rad)) +
                                    0.02 * scatter(columns["angle"].size(), false));
    };
    const auto zeros = [&] {
        for (int index = 0; index < 3; ++index)
            read(0);
    };
    zeros();
    for (double degree = -to_degree; degree < -1e-9; degree += step_degree)
        read(degree);
    zeros();
    for (double degree = step_degree; degree <= to_degree + 1e-9; degree += step_degree)
        read(degree);
    zeros();
    auto& added = add_run(model::RunKind::angular, id, columns);
    added.sample = "S1";
    added.configuration = "bare";
    added.conditions["plane"] = model::ConditionQuantity{0, "degree"};
    return added;
}

void SmallBench::add_limit(const std::string& metric, double lower, double upper, const std::string& unit)
{
    model::Limit limit;
    limit.id = "L-" + std::to_string(limits.limits.size() + 1);
    limit.metric = metric;
    limit.lower = lower;
    limit.upper = upper;
    limit.unit = unit;
    limits.limits.push_back(limit);
}

std::vector<model::Remark> SmallBench::Result::of(const std::string& id) const
{
    std::vector<model::Remark> found;
    std::ranges::copy_if(findings.remarks, std::back_inserter(found),
                         [&](const model::Remark& remark) { return remark.id == id; });
    return found;
}

std::vector<std::string> SmallBench::Result::reasons(const std::string& metric) const
{
    std::vector<std::string> found;
    for (const auto& result : evaluation.results)
        if (result.metric == metric)
            found.push_back(result.undecided);
    return found;
}

SmallBench::Result SmallBench::examine() const
{
    Result result;
    result.evaluation = metrics::evaluate(qualification);
    result.findings = practice::examine(qualification, with_limits ? &limits : nullptr, result.evaluation);
    return result;
}

}  // namespace luxdossier::test
