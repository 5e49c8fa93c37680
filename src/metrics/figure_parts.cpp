#include "metrics/figure_parts.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

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

double expanded_uncertainty_of(const model::Result& result)
{
    return result.combined ? result.combined->expanded_uncertainty : 0.0;
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
    const double u = expanded_uncertainty_of(result);
    return {x, result.value.value_or(std::nan("")), u, u, false};
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

bool says_more(const model::Result& result, const model::Result* found)
{
    if (found == nullptr || result.undecided.empty() != found->undecided.empty())
        return found == nullptr || result.undecided.empty();
    return std::abs(*result.value) > std::abs(*found->value);
}

std::string figure_id(const std::string& kind, const std::vector<std::string>& parts)
{
    auto id = kind;
    for (const auto& part : parts)
        if (!part.empty())
            id += "/" + part;
    return id;
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
