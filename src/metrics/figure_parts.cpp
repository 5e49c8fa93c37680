#include "metrics/figure_parts.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <optional>
#include <set>
#include <tuple>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr const char* minus = "\u2212";
constexpr const char* thin = "\u202F";  // narrow, does not break

/// Decimals that show `digits` significant digits of a positive number; negative: rounded to tens or more.
int decimals_for(double value, int digits)
{
    const int exponent = static_cast<int>(std::floor(std::log10(value)));
    const int decimals = digits - 1 - exponent;
    // 0.0996 to two digits is 0.10: rounding may add a digit in front.
    const double scaled = std::round(value * std::pow(10.0, decimals));
    return scaled >= std::pow(10.0, digits) ? decimals - 1 : decimals;
}

struct Bound {
    double tolerance = 0;
    std::optional<double> acceptance;
};

/// Limits along x of one side of one limit; the narrowest acceptance where several results share an x.
using AlongX = std::map<double, Bound>;

void add_bound(AlongX& along, double x, double tolerance, std::optional<double> acceptance, bool upper)
{
    auto [found, is_new] = along.try_emplace(x, Bound{tolerance, acceptance});
    if (is_new)
        return;
    auto& bound = found->second;
    bound.tolerance = upper ? std::min(bound.tolerance, tolerance) : std::max(bound.tolerance, tolerance);
    if (acceptance)
        bound.acceptance = !bound.acceptance ? *acceptance
                           : upper           ? std::min(*bound.acceptance, *acceptance)
                                             : std::max(*bound.acceptance, *acceptance);
}

bool all_alike(const std::vector<model::Point>& points)
{
    return std::ranges::all_of(points, [&](const model::Point& p) { return p.y == points.front().y; });
}

/// Two points say all of a constant line; one x is given a width.
void settle_ends(std::vector<model::Point>& points, bool logarithmic)
{
    if (points.size() == 1) {
        const auto only = points.front();
        const double below = logarithmic ? only.x * 0.75 : only.x - 2;
        const double above = logarithmic ? only.x / 0.75 : only.x + 2;
        points = {{below, only.y}, {above, only.y}};
    } else if (points.size() > 2 && all_alike(points)) {
        points = {points.front(), points.back()};
    }
}

model::LimitLine line_of(const std::string& id, bool upper, const AlongX& along, bool logarithmic)
{
    model::LimitLine line;
    line.id = id;
    line.upper = upper;
    bool guarded = false;
    for (const auto& [x, bound] : along) {
        line.points.push_back({x, bound.tolerance});
        const double acceptance = bound.acceptance.value_or(bound.tolerance);
        line.acceptance.push_back({x, acceptance});
        guarded = guarded || acceptance != bound.tolerance;
    }
    if (!guarded)
        line.acceptance.clear();
    settle_ends(line.points, logarithmic);
    settle_ends(line.acceptance, logarithmic);
    return line;
}

/// What the limits of a panel span, along both axes.
struct LimitSpan {
    std::optional<double> lower, upper;
    double x_from = std::numeric_limits<double>::infinity(), x_to = -x_from;
    /// Width of the tolerance; of one limit alone its own size.
    [[nodiscard]] double tolerance() const
    {
        return lower && upper ? *upper - *lower : std::abs(lower.value_or(upper.value_or(0)));
    }
};

LimitSpan span_of(const std::vector<model::LimitLine>& limits)
{
    LimitSpan span;
    for (const auto& limit : limits) {
        for (const auto& point : limit.points) {
            if (!std::isfinite(point.y))
                continue;
            auto& bound = limit.upper ? span.upper : span.lower;
            bound = !bound ? point.y : limit.upper ? std::max(*bound, point.y) : std::min(*bound, point.y);
            span.x_from = std::min(span.x_from, point.x);
            span.x_to = std::max(span.x_to, point.x);
        }
    }
    return span;
}

}  // namespace

std::string number_text(double value, int decimals)
{
    const double step = std::pow(10.0, -decimals);
    const double rounded = decimals >= 0 ? value : std::round(value / step) * step;
    auto digits = fmt::format("{:.{}f}", std::abs(rounded), std::max(decimals, 0));
    const bool is_zero = digits.find_first_not_of("0.") == std::string::npos;
    const auto whole = std::min(digits.find('.'), digits.size());
    if (whole >= 5)
        for (auto at = whole; at > 3; at -= 3)
            digits.insert(at - 3, thin);
    return (rounded < 0 && !is_zero ? minus : "") + digits;
}

std::string short_text(double value)
{
    if (value == 0 || !std::isfinite(value))
        return value == 0 ? "0" : "not known";
    const int decimals = decimals_for(std::abs(value), 3);
    auto text = number_text(value, decimals);
    if (decimals > 0) {
        text.erase(text.find_last_not_of('0') + 1);
        if (text.back() == '.')
            text.pop_back();
    }
    return text;
}

std::string quantity_text(double value, std::optional<double> expanded_uncertainty, const std::string& unit,
                          int digits_of_u)
{
    const auto with_unit = [&](const std::string& number) {
        const bool close =
            unit.empty() || unit == "\u00B0";  // the degree sign stands without a space (SI Brochure, 5.4.3)
        return unit == "1" ? number : number + (close ? "" : thin) + unit;
    };
    if (!expanded_uncertainty || !(*expanded_uncertainty > 0) || !std::isfinite(*expanded_uncertainty))
        return with_unit(short_text(value));
    const int decimals = decimals_for(*expanded_uncertainty, digits_of_u);
    return with_unit(number_text(value, decimals)) + " \u00B1 " +
           with_unit(number_text(*expanded_uncertainty, decimals));
}

std::string text_of(const model::Result& result, const std::string& condition)
{
    const auto found = result.conditions.find(condition);
    return found == result.conditions.end() ? std::string{} : model::condition_text(found->second);
}

std::optional<double> number_of(const model::Result& result, const std::string& condition)
{
    const auto found = result.conditions.find(condition);
    if (found == result.conditions.end())
        return std::nullopt;
    const auto* quantity = std::get_if<model::ConditionQuantity>(&found->second);
    return quantity == nullptr ? std::nullopt : std::optional(quantity->value);
}

std::optional<double> illuminance_of(const model::Result& result)
{
    const auto at = result.illuminance_lx ? result.illuminance_lx : number_of(result, "level");
    return at && *at > 0 ? at : std::nullopt;
}

double expanded_uncertainty_of(const model::Result& result)
{
    return result.expanded_uncertainty().value_or(0.0);
}

std::vector<std::size_t> results_of(const model::Dossier& dossier, const std::string& metric)
{
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < dossier.evaluation.results.size(); ++i)
        if (dossier.evaluation.results[i].metric == metric)
            found.push_back(i);
    return found;
}

std::vector<std::vector<std::size_t>> grouped(const std::vector<std::size_t>& indices,
                                              const std::function<std::string(std::size_t)>& key_of)
{
    std::vector<std::vector<std::size_t>> groups;
    std::map<std::string, std::size_t> where;
    for (const auto index : indices) {
        const auto [found, is_new] = where.try_emplace(key_of(index), groups.size());
        if (is_new)
            groups.emplace_back();
        groups[found->second].push_back(index);
    }
    return groups;
}

model::Point point_of(const model::Result& result, double x)
{
    const auto reach = result.reach().value_or(model::Result::Reach{});
    return {x, result.value.value_or(std::nan("")), reach.below, reach.above, false};
}

std::vector<model::LimitLine> limit_lines(const model::Dossier& dossier, const std::vector<Placed>& placed,
                                          bool logarithmic)
{
    std::vector<model::LimitLine> lines;
    if (!dossier.limits)
        return lines;
    std::map<std::size_t, double> x_of;
    for (const auto& place : placed)
        x_of[place.result] = place.x;
    std::map<std::size_t, std::array<AlongX, 2>> by_limit;  // lower, upper
    for (const auto& verdict : dossier.verdicts.verdicts) {
        const auto at = verdict.result ? x_of.find(*verdict.result) : x_of.end();
        if (at == x_of.end())
            continue;
        const auto& limit = dossier.limits->limits.at(verdict.limit);
        const auto in_record_unit = [&](double written) {
            return limit.plus_minus ? written : written * limit.unit_scale + limit.unit_offset;
        };
        const auto add = [&](bool upper, std::optional<double> tolerance, std::optional<double> acceptance) {
            if (tolerance)
                add_bound(by_limit[verdict.limit][upper ? 1 : 0], at->second, in_record_unit(*tolerance),
                          acceptance ? std::optional(in_record_unit(*acceptance)) : std::nullopt, upper);
        };
        add(false, verdict.tolerance_lower, verdict.acceptance_lower);
        add(true, verdict.tolerance_upper, verdict.acceptance_upper);
    }
    for (const auto& [limit, sides] : by_limit)
        for (const bool upper : {true, false})
            if (const auto& along = sides[upper ? 1 : 0]; !along.empty())
                lines.push_back(line_of(dossier.limits->limits[limit].id, upper, along, logarithmic));
    return lines;
}

std::size_t frame_by_limits(model::Panel& panel)
{
    constexpr double infinity = std::numeric_limits<double>::infinity();
    constexpr double air = 0.5, most_air = 2, edge = 0.03;
    const auto span = span_of(panel.limits);
    const double tolerance = span.tolerance();
    if (panel.y.logarithmic || !(tolerance > 0))
        return 0;
    // Where there is no limit every result is seen, and as much of its whisker as the limit is large.
    double least = infinity, greatest = -infinity;
    for (const auto& series : panel.series) {
        for (const auto& point : series.points) {
            least = std::isfinite(point.y) ? std::min(least, point.y) : least;
            greatest = std::isfinite(point.y) ? std::max(greatest, point.y) : greatest;
        }
    }
    const auto window = [&](double share) {
        return std::pair(span.lower ? *span.lower - share * tolerance : least - tolerance,
                         span.upper ? *span.upper + share * tolerance : greatest + tolerance);
    };
    const auto [low, high] = window(air);
    const auto [lowest, highest] = window(most_air);
    double from = span.lower.value_or(infinity), to = span.upper.value_or(-infinity);
    const auto add = [&](double value) {
        from = std::min(from, value);
        to = std::max(to, value);
    };
    for (const auto& limit : panel.limits)
        for (const auto& point : limit.points)
            add(point.y);
    for (const auto& reference : panel.references)
        for (const auto& point : reference.points)
            add(point.y);
    std::size_t beyond = 0;
    bool cut = false;
    for (const auto& series : panel.series) {
        for (const auto& point : series.points) {
            if (!std::isfinite(point.y))
                continue;
            const bool judged = point.x >= span.x_from && point.x <= span.x_to;
            const bool seen =
                judged ? point.y >= lowest && point.y <= highest : point.y >= low && point.y <= high;
            if (seen)
                add(point.y);
            else
                ++beyond;
            const double foot = point.y - point.u_lower, head = point.y + point.u_upper;
            cut = cut || foot < low || head > high;
            add(std::clamp(foot, low, high));
            add(std::clamp(head, low, high));
        }
    }
    if (beyond == 0 && !cut)
        return 0;
    panel.y.from = from - edge * (to - from);
    panel.y.to = to + edge * (to - from);
    return beyond;
}

void share_values(std::span<model::Panel> panels)
{
    constexpr double infinity = std::numeric_limits<double>::infinity();
    constexpr double least_share = 1.0 / 3, air = 0.04;
    double from = infinity, to = -infinity, narrowest = infinity;
    for (const auto& panel : panels) {
        double low = panel.y.from.value_or(infinity), high = panel.y.to.value_or(-infinity);
        const auto add = [&](double value) {
            if (!panel.y.from && std::isfinite(value))
                low = std::min(low, value);
            if (!panel.y.to && std::isfinite(value))
                high = std::max(high, value);
        };
        for (const auto& series : panel.series) {
            for (const auto& point : series.points) {
                add(point.y - point.u_lower);
                add(point.y + point.u_upper);
            }
        }
        for (const auto& limit : panel.limits) {
            for (const auto& point : limit.points)
                add(point.y);
        }
        if (panel.y.logarithmic || !(low < high))
            return;
        from = std::min(from, low);
        to = std::max(to, high);
        narrowest = std::min(narrowest, high - low);
    }
    if (!(narrowest >= least_share * (to - from)))
        return;
    for (auto& panel : panels) {
        panel.y.from = from - air * (to - from);
        panel.y.to = to + air * (to - from);
    }
}

std::string beyond_text(std::size_t beyond)
{
    return beyond == 0 ? ""
                       : fmt::format("; an arrow at the frame stands for a result beyond it ({})", beyond);
}

bool says_more(const model::Result& result, const model::Result* found)
{
    if (found == nullptr || result.undecided.empty() != found->undecided.empty())
        return found == nullptr || result.undecided.empty();
    return std::abs(*result.value) > std::abs(*found->value);
}

double greatest_magnitude(const model::Series& series)
{
    double greatest = 0;
    for (const auto& point : series.points)
        greatest = std::max(greatest, std::abs(point.y));
    return greatest;
}

void put_behind(model::Series& series)
{
    series.in_background = true;
    if (series.stroke == model::Stroke::none)
        return;
    series.stroke = model::Stroke::solid;
    series.mark = model::Mark::none;
    for (auto& point : series.points)
        point.u_lower = point.u_upper = 0;
}

std::size_t step_back(const model::Dossier& dossier, model::Panel& panel,
                      const std::function<double(const model::Series&)>& magnitude)
{
    constexpr std::size_t most = 10, named = 5;
    const std::span<model::Series> marked(std::ranges::stable_partition(
        panel.series, [](const model::Series& series) { return series.mark == model::Mark::none; }));
    if (marked.size() <= most)
        return 0;
    struct Standing {
        int severity = -1;
        double margin = std::numeric_limits<double>::infinity();
    };
    std::map<std::size_t, Standing> of_result;
    for (const auto& verdict : dossier.verdicts.verdicts) {
        if (!verdict.result)
            continue;
        auto& standing = of_result[*verdict.result];
        standing.severity = std::max(standing.severity, static_cast<int>(verdict.outcome));
        standing.margin = std::min(standing.margin, verdict.margin.value_or(standing.margin));
    }
    const auto rank = [&](const model::Series& series) {
        Standing worst;
        for (const auto i : series.origin.results) {
            const auto found = of_result.find(i);
            if (found == of_result.end())
                continue;
            worst.severity = std::max(worst.severity, found->second.severity);
            worst.margin = std::min(worst.margin, found->second.margin);
        }
        return std::tuple(worst.severity, -worst.margin, magnitude(series));
    };
    std::ranges::stable_sort(marked, {}, rank);
    const std::size_t behind = marked.size() - named;
    for (std::size_t i = 0; i < marked.size(); ++i) {
        auto& series = marked[i];
        if (i < behind) {
            put_behind(series);
            continue;
        }
        const bool has_line = series.stroke != model::Stroke::none;
        series.mark = mark_of(i - behind);
        series.colour = colour_of(i - behind);
        series.stroke = has_line ? stroke_of(i - behind) : model::Stroke::none;
    }
    return behind;
}

std::string stepped_back_text(std::size_t stepped_back)
{
    return stepped_back == 0
               ? ""
               : fmt::format("; named are those that stand worst, in grey the other {}", stepped_back);
}

std::string figure_id(const std::string& kind, const std::vector<std::string>& parts)
{
    auto id = kind;
    for (const auto& part : parts)
        if (!part.empty())
            id += "/" + part;
    return id;
}

std::vector<std::size_t> at_one_temperature(const model::Dossier& dossier,
                                            const std::vector<std::size_t>& results)
{
    const auto& all = dossier.evaluation.results;
    const auto groups = grouped(results, [&](std::size_t i) { return text_of(all[i], "temperature"); });
    std::set<std::optional<double>> levels;
    std::size_t distinct = 0;
    for (const auto& group : groups) {
        std::set<std::optional<double>> own;
        for (const auto i : group)
            own.insert(number_of(all[i], "level"));
        distinct += own.size();
        levels.merge(own);
    }
    if (distinct == levels.size())
        return results;
    return *std::ranges::max_element(groups, {}, [](const auto& group) { return group.size(); });
}

std::string other_temperatures_text(bool left_out)
{
    return left_out ? "; other temperatures have a figure of their own" : "";
}

std::string listed(const std::vector<std::string>& parts)
{
    std::string text;
    for (const auto& part : parts)
        if (!part.empty())
            text += (text.empty() ? "" : ", ") + part;
    return text;
}

model::Mark mark_of(std::size_t series)
{
    constexpr std::array marks{model::Mark::disc, model::Mark::square, model::Mark::triangle,
                               model::Mark::diamond, model::Mark::cross};
    return marks[series % marks.size()];
}

int colour_of(std::size_t series)
{
    constexpr std::size_t data_colours = 5;
    return static_cast<int>(series % data_colours);
}

model::Stroke stroke_of(std::size_t series)
{
    constexpr std::array strokes{model::Stroke::solid, model::Stroke::dashed, model::Stroke::dotted,
                                 model::Stroke::dash_dot};
    constexpr std::size_t data_colours = 5;
    return strokes[series / data_colours % strokes.size()];
}

std::vector<std::size_t> thinned(std::span<const double> times, std::span<const double> values,
                                 std::size_t buckets)
{
    std::vector<std::size_t> kept;
    if (times.size() <= 2 * buckets) {
        for (std::size_t i = 0; i < times.size(); ++i)
            kept.push_back(i);
        return kept;
    }
    const double begin = times.front(), width = (times.back() - begin) / static_cast<double>(buckets);
    std::size_t i = 0;
    for (std::size_t bucket = 0; bucket < buckets && i < times.size(); ++bucket) {
        const bool last = bucket + 1 == buckets;
        const double end = begin + width * static_cast<double>(bucket + 1);
        std::size_t least = i, greatest = i;
        const std::size_t first = i;
        for (; i < times.size() && (last || times[i] < end); ++i) {
            if (values[i] < values[least])
                least = i;
            if (values[i] > values[greatest])
                greatest = i;
        }
        if (i == first)
            continue;
        kept.push_back(std::min(least, greatest));
        if (least != greatest)
            kept.push_back(std::max(least, greatest));
    }
    return kept;
}

}  // namespace luxdossier::metrics
