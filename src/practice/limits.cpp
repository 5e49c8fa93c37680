#include "practice/rules.hpp"

#include "model/numerals.hpp"
#include "model/selection.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <tuple>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::RemarkSeverity;

/// A range over which a limit speaks, along level or angle.
struct Range {
    std::string along, unit;
    double from = 0, to = 0;
};

std::vector<Range> ranges_of(const model::Limit& limit)
{
    constexpr double open = std::numeric_limits<double>::infinity();
    std::vector<Range> ranges;
    for (const auto& selector : limit.where) {
        const bool is_range = (selector.from || selector.to) && selector.from != selector.to;
        if (is_range && (selector.name == "level" || selector.name == "angle"))
            ranges.push_back({selector.name, selector.name == "level" ? "lx" : "deg",
                              selector.from.value_or(-open), selector.to.value_or(open)});
    }
    if (limit.mask && !limit.mask->angle_degree.empty())
        ranges.push_back({"angle", "deg", std::ranges::min(limit.mask->angle_degree),
                          std::ranges::max(limit.mask->angle_degree)});
    return ranges;
}

/// What was read for one combination of sample, configuration, source and plane.
struct Read {
    double from = std::numeric_limits<double>::infinity(), to = -std::numeric_limits<double>::infinity();
    std::vector<std::size_t> results;
};

std::map<std::string, Read> read_for(const Bench& bench, const model::Limit& limit, const Range& range)
{
    std::map<std::string, Read> found;
    for (std::size_t index = 0; index < bench.evaluation().results.size(); ++index) {
        const auto& result = bench.evaluation().results[index];
        const auto at = model::condition_number(result.conditions, range.along);
        if (!at || !model::selects(limit, result))
            continue;
        std::string combination = result.sample;
        for (const auto* name : {"configuration", "source", "plane"})
            if (const auto text = model::condition_text(result.conditions, name); !text.empty())
                combination += (combination.empty() ? "" : " ") + text;
        auto& read = found[combination];
        read.from = std::min(read.from, *at);
        read.to = std::max(read.to, *at);
        read.results.push_back(index);
    }
    return found;
}

/// An open end of a range asks for nothing.
bool reaches_beyond(const Range& range, const Read& read)
{
    const auto below = [](double a, double b) {
        return std::isfinite(a) && std::isfinite(b) && a < b - 1e-9 * std::abs(b);
    };
    return below(range.from, read.from) || below(read.to, range.to);
}

std::string range_text(double from, double to, const std::string& unit)
{
    if (std::isinf(from))
        return fmt::format("up to {} {}", model::numeral(to, 6), unit);
    if (std::isinf(to))
        return fmt::format("{} {} and above", model::numeral(from, 6), unit);
    return fmt::format("{} to {} {}", model::numeral(from, 6), model::numeral(to, 6), unit);
}

}  // namespace

void range_not_covered(Bench& bench)
{
    if (bench.limits() == nullptr)
        return;
    for (const auto& limit : bench.limits()->limits) {
        for (const auto& range : ranges_of(limit)) {
            std::size_t combinations = 0;
            std::string seen;
            std::vector<std::size_t> touched;
            for (const auto& [combination, read] : read_for(bench, limit, range)) {
                if (!reaches_beyond(range, read))
                    continue;
                if (combinations++ == 0)
                    seen = fmt::format("limit {} speaks of {} {}, {} was read over {}", limit.id, range.along,
                                       range_text(range.from, range.to, range.unit), combination,
                                       range_text(read.from, read.to, range.unit));
                add_results(touched, read.results);
            }
            if (combinations > 1)
                seen += fmt::format(" ({} more alike)", combinations - 1);
            if (combinations > 0)
                bench.raise({"range-not-covered",
                             RemarkSeverity::note,
                             {},
                             std::move(seen),
                             "the verdict holds where readings are, not over the whole range",
                             "read the ends of the range, or state the levels in expects",
                             std::move(touched),
                             {}});
        }
    }
}

void limits_after_data(Bench& bench)
{
    if (bench.limits() == nullptr || !bench.limits()->agreed_on)
        return;
    std::optional<model::Date> first;
    std::string run_id;
    for (const auto& run : bench.qualification().runs)
        if (run.started && (!first || run.started->date() < *first)) {
            first = run.started->date();
            run_id = run.id;
        }
    if (first && *bench.limits()->agreed_on > *first)
        bench.raise(
            {"limits-after-data",
             RemarkSeverity::note,
             {},
             fmt::format("the limits were agreed on {}, the first reading (run {}) is of {}",
                         model::date_text(*bench.limits()->agreed_on), run_id, model::date_text(*first)),
             "limits that were set with the readings known prove less",
             "agree on limits before the readings are taken",
             {},
             {}});
}

}  // namespace luxdossier::practice
