#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

/// The reading error before the correction, of the same sample and conditions.
const model::Result* before(const std::map<std::string, std::size_t>& errors, const model::Dossier& dossier,
                            const model::Result& after)
{
    auto conditions = after.conditions;
    conditions.erase("correction");
    const auto found = errors.find(model::result_id("reading_error", after.sample, conditions));
    return found == errors.end() ? nullptr : &dossier.evaluation.results[found->second];
}

struct Extremes {
    double before = 0, after = 0;
};

/// Errors of one sample before (pale, no mark) and after.
void add_sample(model::Panel& panel, const model::Dossier& dossier, std::vector<std::size_t> results,
                const std::map<std::string, std::size_t>& errors, std::size_t number, Extremes& extremes)
{
    const auto& all = dossier.evaluation.results;
    std::ranges::stable_sort(results, {}, [&](std::size_t i) { return illuminance_of(all[i]).value_or(0); });
    const auto& sample = all[results.front()].sample;
    model::Series without, with;
    without.name = listed({sample, "before"});
    with.name = listed({sample, "after"});
    without.colour = with.colour = colour_of(number);
    without.stroke = model::Stroke::dotted;
    with.stroke = model::Stroke::solid;
    without.mark = model::Mark::none;
    with.mark = mark_of(number);
    for (const auto i : results) {
        const auto at = illuminance_of(all[i]);
        if (!at || !all[i].value)
            continue;
        with.points.push_back(point_of(all[i], *at));
        with.origin.results.push_back(i);
        extremes.after = std::max(extremes.after, std::abs(*all[i].value));
        if (const auto* error = before(errors, dossier, all[i]); error != nullptr && error->value) {
            without.points.push_back({*at, *error->value});
            without.origin.results.push_back(static_cast<std::size_t>(error - all.data()));
            extremes.before = std::max(extremes.before, std::abs(*error->value));
        }
    }
    for (auto* series : {&without, &with})
        if (!series->points.empty())
            panel.series.push_back(std::move(*series));
}

model::Figure figure_of(const model::Dossier& dossier, const std::vector<std::size_t>& results,
                        const std::map<std::string, std::size_t>& errors)
{
    const auto& all = dossier.evaluation.results;
    const auto& first = all[results.front()];
    const std::vector<std::string> parts{text_of(first, "correction"), text_of(first, "source")};
    model::Figure figure;
    figure.id = figure_id("remaining_error", parts);
    figure.family = "correction";
    figure.half_width = true;
    figure.title = "Reading error before and after correction: " + listed(parts);
    model::Panel panel;
    panel.x.title = "illuminance / lx";
    panel.x.logarithmic = true;
    panel.y.title = "reading error / %";
    Extremes extremes;
    std::size_t number = 0;
    for (const auto& sample : grouped(results, [&](std::size_t i) { return all[i].sample; }))
        add_sample(panel, dossier, sample, errors, number++, extremes);
    std::vector<Placed> placed;
    for (const auto i : results)
        if (const auto at = illuminance_of(all[i]); at && all[i].value)
            placed.push_back({i, number_of(all[i], "level").value_or(*at)});
    panel.limits = limit_lines(dossier, placed, true);
    const auto beyond = frame_by_limits(panel);
    figure.caption = fmt::format("Reading error under {}, before (dotted, all readings) and after correction "
                                 "(later half of the readings, whiskers: expanded uncertainty){}{}.",
                                 listed(parts), panel.limits.empty() ? "" : "; limits with guard bands",
                                 beyond_text(beyond));
    figure.alternative_text =
        fmt::format("Reading error against illuminance under {}: the greatest is {} % before and {} % after "
                    "correction.",
                    listed(parts), short_text(extremes.before), short_text(extremes.after));
    figure.panels.push_back(std::move(panel));
    return figure;
}

}  // namespace

std::vector<model::Figure> correction_figures(const model::Dossier& dossier)
{
    const auto& all = dossier.evaluation.results;
    std::map<std::string, std::size_t> errors;
    for (const auto i : results_of(dossier, "reading_error"))
        errors.emplace(all[i].id, i);
    std::vector<model::Figure> figures;
    const auto groups = grouped(results_of(dossier, "remaining_error"), [&](std::size_t i) {
        return text_of(all[i], "correction") + "\n" + text_of(all[i], "source");
    });
    for (const auto& group : groups) {
        auto figure = figure_of(dossier, group, errors);
        if (!figure.panels.front().series.empty())
            figures.push_back(std::move(figure));
    }
    return figures;
}

}  // namespace luxdossier::metrics
