#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// Two samples tell an interval of 36 standard deviations: it would hide them.
constexpr std::size_t fewest_samples = 3;

/// Both ends of the tolerance interval at one level.
struct Interval {
    std::optional<std::size_t> lower, upper;
};

std::string group_key(const model::Result& result)
{
    const auto kelvin = number_of(result, "temperature");
    return listed({text_of(result, "configuration"), text_of(result, "source"),
                   kelvin ? number_text(*kelvin - 273.15, 0) + "\u00A0\u00B0C" : std::string{}});
}

/// One dot a sample at each level, and the interval as a whisker without a mark.
model::Panel panel_of(const model::Dossier& dossier, const std::string& key,
                      const std::map<double, Interval>& intervals, std::vector<Placed>& placed)
{
    const auto& all = dossier.evaluation.results;
    model::Panel panel;
    panel.x = {"nominal level / lx", true, std::nullopt, std::nullopt};
    panel.y.title = "reading error / %";
    model::Series span;
    span.name = "interval";
    span.mark = model::Mark::none;
    span.colour = colour_of(3);
    for (const auto& [level, interval] : intervals) {
        const double lower = *all[*interval.lower].value, upper = *all[*interval.upper].value;
        span.points.push_back({level, (lower + upper) / 2, (upper - lower) / 2, (upper - lower) / 2});
        span.origin.results.push_back(*interval.upper);
    }
    panel.series.push_back(std::move(span));
    std::vector<std::size_t> drawn;
    for (const auto i : results_of(dossier, "reading_error"))
        if (all[i].value && group_key(all[i]) == key && number_of(all[i], "level") &&
            intervals.contains(*number_of(all[i], "level")))
            drawn.push_back(i);
    for (const auto& sample : grouped(drawn, [&](std::size_t i) { return all[i].sample; })) {
        model::Series series;
        series.name = all[sample.front()].sample;
        series.mark = mark_of(panel.series.size() - 1);
        series.colour = colour_of(panel.series.size() - 1);
        for (const auto i : sample) {
            series.points.push_back({*number_of(all[i], "level"), *all[i].value});
            series.origin.results.push_back(i);
            placed.push_back({i, *number_of(all[i], "level")});
        }
        panel.series.push_back(std::move(series));
    }
    return panel;
}

}  // namespace

std::vector<model::Figure> samples_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    std::vector<std::string> order;
    std::map<std::string, std::map<double, Interval>> intervals;
    for (const auto* metric : {"tolerance_interval_lower", "tolerance_interval_upper"})
        for (const auto i : results_of(dossier, metric)) {
            const auto level = number_of(all[i], "level");
            if (!all[i].value || !level || !(*level > 0))
                continue;
            const auto key = group_key(all[i]);
            if (std::ranges::find(order, key) == order.end())
                order.push_back(key);
            auto& interval = intervals[key][*level];
            (metric == std::string("tolerance_interval_lower") ? interval.lower : interval.upper) = i;
        }
    std::vector<model::Figure> figures;
    for (const auto& key : order) {
        auto& of_key = intervals[key];
        std::erase_if(of_key, [](const auto& entry) { return !entry.second.lower || !entry.second.upper; });
        if (of_key.empty())
            continue;
        const auto& first = all[*of_key.begin()->second.upper];
        std::vector<Placed> placed;
        model::Figure figure;
        figure.id = figure_id("samples", {text_of(first, "configuration"), text_of(first, "source"),
                                          text_of(first, "temperature")});
        figure.family = "samples";
        figure.title = "Reading error of the samples: " + key;
        figure.panels.push_back(panel_of(dossier, key, of_key, placed));
        if (figure.panels.front().series.size() < 1 + fewest_samples)
            continue;
        figure.panels.front().limits = limit_lines(dossier, placed, true);
        const auto behind = step_back(dossier, figure.panels.front(), greatest_magnitude);
        const auto widest = std::ranges::max_element(of_key, {}, [&](const auto& entry) {
            return *all[*entry.second.upper].value - *all[*entry.second.lower].value;
        });
        figure.caption =
            fmt::format("Reading error of every sample, {}; the line at each level is the statistical "
                        "95 %/95 % tolerance interval, widened by the uncertainty that all share{}{}.",
                        key, stepped_back_text(behind),
                        figure.panels.front().limits.empty() ? "" : "; limits of the samples");
        figure.alternative_text = fmt::format(
            "Reading error of {} samples, {}: the widest tolerance interval reaches from {} % to {} % at {} "
            "lx.",
            figure.panels.front().series.size() - 1, key, short_text(*all[*widest->second.lower].value),
            short_text(*all[*widest->second.upper].value), short_text(widest->first));
        figures.push_back(std::move(figure));
    }
    for (auto& figure : figures)
        figure.half_width = figures.size() > 1;
    return figures;
}

}  // namespace luxdossier::metrics
