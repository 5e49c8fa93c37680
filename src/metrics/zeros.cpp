#include "metrics/zeros.hpp"

#include "metrics/illuminance.hpp"
#include "model/selection.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

SetRequest dark_request(const Bench& bench, std::size_t run, const std::string& column)
{
    SetRequest request;
    request.column = column;
    request.rows = bench.run(run).rows;
    request.words =
        fmt::format("{}, {}", column, light_of(bench, run) == "blocked" ? "source blocked" : "dark");
    request.symbol = column == "sensor" ? "D_0" : "R_0";
    return request;
}

Traced traced(const ReadingMean& mean, const std::string& symbol)
{
    return {mean.total.named(symbol), mean.trail};
}

DarkMeans build_dark_means(Bench& bench, std::size_t dark_run)
{
    const auto sensor_rows = bench.rows_with(dark_run, "sensor");
    const auto meter_rows = bench.rows_with(dark_run, "meter");
    std::vector<std::uint32_t> both;
    std::ranges::set_intersection(sensor_rows, meter_rows, std::back_inserter(both));
    const auto sensor = dark_request(bench, dark_run, "sensor");
    const auto meter = dark_request(bench, dark_run, "meter");
    DarkMeans means;
    if (!both.empty()) {
        const auto pair = pairs_of(bench, dark_run, {&sensor, 1}, {&meter, 1}).front();
        means.sensor = traced(pair.first, "D_0");
        means.meter = traced(pair.second, "R_0");
        return means;
    }
    if (!sensor_rows.empty())
        means.sensor = traced(mean_of(bench, dark_run, sensor), "D_0");
    if (!meter_rows.empty())
        means.meter = traced(mean_of(bench, dark_run, meter), "R_0");
    return means;
}

std::size_t remark_ambient(Bench& bench, std::size_t run, std::size_t dark_run)
{
    model::Remark remark;
    remark.id = "ambient-unstated";
    remark.severity = model::RemarkSeverity::concern;
    remark.run = bench.run(run).id;
    remark.seen = fmt::format(
        "readings with the source blocked (run {}), without a statement whether the ambient light "
        "is subtracted or present",
        bench.run(dark_run).id);
    remark.effect = "they are taken as the meter's zero only; the product's readings keep the ambient light";
    remark.advice = "state ambient as subtracted or present, or take capped readings";
    return bench.remark(std::move(remark));
}

/// The run's own statement, else that of its dark run.
std::optional<model::Ambient> ambient_of(const Bench& bench, std::size_t run, std::size_t dark_run)
{
    return bench.run(run).ambient ? bench.run(run).ambient : bench.run(dark_run).ambient;
}

std::string own_light_of(const Bench& bench, std::size_t run)
{
    return model::condition_text(bench.run(run).conditions, "own_light");
}

/// A zero of another device is none: the dark run must not name another meter; for the product's own reading,
/// nor another sample, configuration or state of its own light.
bool same_device(const Bench& bench, std::size_t run, std::size_t dark_run, std::string_view column)
{
    const auto& subject = bench.run(run);
    const auto& dark = bench.run(dark_run);
    if (column == "meter")
        return dark.meter.empty() || dark.meter == subject.meter;
    return (dark.sample.empty() || dark.sample == subject.sample) &&
           model::compatible(dark.configuration, subject.configuration) &&
           model::compatible(own_light_of(bench, dark_run), own_light_of(bench, run));
}

/// 2 where two statements are the same, 1 where one is not made, 0 where they contradict each other.
int likeness(const std::string& a, const std::string& b)
{
    return !model::compatible(a, b) ? 0 : a == b ? 2 : 1;
}

}  // namespace

std::string light_of(const Bench& bench, std::size_t dark_run)
{
    const auto& conditions = bench.run(dark_run).conditions;
    const auto found = conditions.find("light");
    if (found == conditions.end())
        return {};
    const auto* text = std::get_if<std::string>(&found->second);
    return text == nullptr ? std::string{} : *text;
}

DarkMeans dark_means(Bench& bench, std::size_t dark_run)
{
    const auto key = bench.run_identity(dark_run) + "/dark-means/";
    DarkMeans means;
    if (bench.recall(key) == nullptr) {
        means = build_dark_means(bench, dark_run);
        bench.keep(key, {});
        if (means.sensor)
            bench.keep(key + "sensor", *means.sensor);
        if (means.meter)
            bench.keep(key + "meter", *means.meter);
        return means;
    }
    if (const auto* sensor = bench.recall(key + "sensor"))
        means.sensor = *sensor;
    if (const auto* meter = bench.recall(key + "meter"))
        means.meter = *meter;
    return means;
}

std::optional<std::size_t> dark_run_of(const Bench& bench, std::size_t run)
{
    const auto& subject = bench.run(run);
    std::optional<std::size_t> best;
    int best_score = -1;
    for (const auto candidate : bench.runs_of(model::RunKind::dark)) {
        const auto& dark = bench.run(candidate);
        if (subject.dark_run.empty() || dark.id != subject.dark_run)
            continue;
        int score = 0;
        for (const int part : {likeness(dark.meter, subject.meter), likeness(dark.sample, subject.sample),
                               likeness(dark.configuration, subject.configuration),
                               likeness(own_light_of(bench, candidate), own_light_of(bench, run))})
            score = score * 3 + part;
        if (score > best_score) {
            best = candidate;
            best_score = score;
        }
    }
    return best;
}

Zeros zeros_of(Bench& bench, std::size_t run)
{
    Zeros zeros;
    const auto dark_run = dark_run_of(bench, run);
    if (!dark_run)
        return zeros;
    const bool blocked = light_of(bench, *dark_run) == "blocked";
    const auto ambient = ambient_of(bench, run, *dark_run);
    if (blocked && ambient == model::Ambient::present)
        return zeros;
    const auto means = dark_means(bench, *dark_run);
    if (same_device(bench, run, *dark_run, "meter"))
        zeros.meter = means.meter;
    if (blocked && !ambient)
        zeros.trail.remarks.push_back(remark_ambient(bench, run, *dark_run));
    if (blocked && ambient == model::Ambient::subtracted) {
        if (same_device(bench, run, *dark_run, "sensor"))
            zeros.sensor = means.sensor;
        if (!zeros.sensor || !zeros.meter)
            zeros.trail.undecide(fmt::format(
                "run {}: ambient light is to be subtracted, but run {} does not hold it for both devices",
                bench.run(run).id, bench.run(*dark_run).id));
    }
    return zeros;
}

std::optional<Traced> capped_zero(Bench& bench, std::size_t run, std::string_view column)
{
    const auto dark_run = dark_run_of(bench, run);
    if (!dark_run || light_of(bench, *dark_run) == "blocked" || !same_device(bench, run, *dark_run, column))
        return std::nullopt;
    const auto means = dark_means(bench, *dark_run);
    return column == "sensor" ? means.sensor : means.meter;
}

}  // namespace luxdossier::metrics
