#include "metrics/devices.hpp"

#include "metrics/levels.hpp"
#include "model/numerals.hpp"
#include "statistics/lag_one.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Runs whose means are of readings that follow one another, beside the comparisons: they take the
/// correlation, and tell nothing of it, as they are few beside those.
constexpr std::array others{model::RunKind::dark, model::RunKind::position, model::RunKind::field_map,
                            model::RunKind::near_infrared};

/// Median time between neighbouring readings of a column's sets, as a power of two.
std::optional<int> interval_of(const model::Run& run, const std::vector<RowsOfSet>& sets,
                               const std::string& column)
{
    const auto* time = run.table ? run.table->number("time") : nullptr;
    if (time == nullptr)
        return std::nullopt;
    std::vector<double> steps_s;
    for (const auto& set : sets)
        for (std::size_t i = 1; set.column == column && i < set.rows.size(); ++i)
            if (const double step = time->values.at(set.rows[i]) - time->values.at(set.rows[i - 1]); step > 0)
                steps_s.push_back(step);
    if (steps_s.empty())
        return std::nullopt;
    const auto middle = steps_s.begin() + static_cast<std::ptrdiff_t>(steps_s.size() / 2);
    std::ranges::nth_element(steps_s, middle);
    return std::isfinite(*middle) ? std::optional(static_cast<int>(std::lround(std::log2(*middle))))
                                  : std::nullopt;
}

model::Device device_named(const std::string& column, const std::string& id, std::optional<int> interval)
{
    model::Device device;
    device.column = column;
    device.id = id;
    device.words = id.empty() ? column : fmt::format("{} {}{}", column, column == "sensor" ? "of " : "", id);
    if (interval)
        device.words += fmt::format(", read about {} s apart", model::numeral(std::exp2(*interval), 3));
    return device;
}

Bench::Devices devices_of(const Bench& bench)
{
    Bench::Devices devices;
    std::vector<statistics::DeviceCorrelation> correlations;
    for (const auto run : bench.runs_of(model::RunKind::comparison)) {
        const auto& subject = bench.run(run);
        if (!subject.time_ordered || !subject.table)
            continue;
        const auto sets = sets_of_levels(bench, run);
        for (const std::string column : {"sensor", "meter"}) {
            const auto* readings = subject.table->number(column);
            if (readings == nullptr)
                continue;
            auto device = device_named(column, column == "sensor" ? subject.sample : subject.meter,
                                       interval_of(subject, sets, column));
            const auto known = std::ranges::find(devices.all, device.words, &model::Device::words);
            const auto index = static_cast<std::size_t>(known - devices.all.begin());
            if (known == devices.all.end()) {
                devices.all.push_back(std::move(device));
                correlations.emplace_back();
            }
            devices.of[{run, column}] = index;
            for (const auto& set : sets) {
                if (set.column != column)
                    continue;
                std::vector<double> values;
                for (const auto row : set.rows)
                    values.push_back(readings->values.at(row));
                correlations[index].add(values);
            }
        }
    }
    for (const auto kind : others)
        for (const auto run : bench.runs_of(kind)) {
            const auto& subject = bench.run(run);
            if (!subject.time_ordered)
                continue;
            for (const std::string column : {"sensor", "meter"}) {
                const auto rows = bench.rows_with(run, column);
                const auto words = device_named(column, column == "sensor" ? subject.sample : subject.meter,
                                                interval_of(subject, {{column, rows}}, column))
                                       .words;
                const auto known = std::ranges::find(devices.all, words, &model::Device::words);
                if (!rows.empty() && known != devices.all.end())
                    devices.of[{run, column}] = static_cast<std::size_t>(known - devices.all.begin());
            }
        }
    for (std::size_t i = 0; i < correlations.size(); ++i) {
        auto& device = devices.all[i];
        device.sets = correlations[i].sets;
        device.readings = correlations[i].readings;
        device.estimate = correlations[i].estimate();
        device.weight = correlations[i].weight;
        device.r = correlations[i].r();
    }
    return devices;
}

}  // namespace

std::optional<std::size_t> device_of(Bench& bench, std::size_t run, const std::string& column)
{
    const auto* devices = bench.recall_devices();
    if (devices == nullptr)
        devices = &bench.keep_devices(devices_of(bench));
    const auto found = devices->of.find({run, column});
    return found == devices->of.end() ? std::nullopt : std::optional(found->second);
}

}  // namespace luxdossier::metrics
