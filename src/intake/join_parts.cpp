#include "intake/join_parts.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace luxdossier::intake {
namespace {

constexpr auto no_partner = static_cast<std::size_t>(-1);

/// Rows that share one time, as a logger with coarse time stamps writes them.
struct Moment {
    double time_s = 0;
    std::size_t first = 0, rows = 0;
};

std::vector<Moment> moments_of(const std::vector<double>& times)
{
    std::vector<Moment> moments;
    for (std::size_t row = 0; row < times.size(); ++row) {
        if (moments.empty() || times[row] != moments.back().time_s)
            moments.push_back({times[row], row, 0});
        ++moments.back().rows;
    }
    return moments;
}

/// Which of two moments that are equally near counts as the nearest. The rows of the first part take the
/// later, those of the others the earlier: so logs that are half an interval apart still pair one to one.
enum class Tie { earlier, later };

/// For each moment, the index of the nearest other one.
std::vector<std::size_t> nearest_of(const std::vector<Moment>& moments, const std::vector<Moment>& others,
                                    Tie tie)
{
    constexpr double last_digit_s = 1e-9;  // of differences of decimal figures
    std::vector<std::size_t> nearest(moments.size(), no_partner);
    std::size_t candidate = 0;
    for (std::size_t i = 0; i < moments.size() && !others.empty(); ++i) {
        const auto time_s = moments[i].time_s;
        const auto distance = [&](std::size_t at) { return std::abs(others[at].time_s - time_s); };
        const double allowance = tie == Tie::later ? last_digit_s : -last_digit_s;
        while (candidate + 1 < others.size() && distance(candidate + 1) < distance(candidate) + allowance)
            ++candidate;
        nearest[i] = candidate;
    }
    return nearest;
}

std::vector<std::size_t> partners_in_time(const model::Table& base, const model::Table& part,
                                          Joined::Part& told)
{
    const auto moments = moments_of(base.number("time")->values);
    const auto others = moments_of(part.number("time")->values);
    const auto nearest = nearest_of(moments, others, Tie::later);
    const auto back = nearest_of(others, moments, Tie::earlier);
    std::vector<std::size_t> partners(base.rows, no_partner);
    for (std::size_t i = 0; i < moments.size(); ++i) {
        if (nearest[i] == no_partner || back[nearest[i]] != i)
            continue;
        const auto& other = others[nearest[i]];
        const double difference_s = std::abs(other.time_s - moments[i].time_s);
        // Times are decimal figures: a difference of exactly the tolerance counts although its last digit is
        // not exact.
        if (!(difference_s <= told.within_s * (1 + 1e-9) + 1e-9))
            continue;
        for (std::size_t k = 0; k < std::min(moments[i].rows, other.rows); ++k)
            partners[moments[i].first + k] = other.first + k;
        told.largest_time_difference_s = std::max(told.largest_time_difference_s, difference_s);
    }
    return partners;
}

std::vector<std::size_t> partners_by_row(const model::Table& base, const model::Table& part)
{
    std::vector<std::size_t> partners(base.rows, no_partner);
    for (std::size_t i = 0; i < std::min(base.rows, part.rows); ++i)
        partners[i] = i;
    return partners;
}

void add_columns(model::Table& base, model::Table& part, const std::vector<std::size_t>& partners)
{
    for (auto& column : part.numbers) {
        if (column.meaning == "time" && base.number("time") != nullptr)
            continue;
        std::vector<double> values(base.rows, std::numeric_limits<double>::quiet_NaN());
        for (std::size_t i = 0; i < base.rows; ++i) {
            if (partners[i] != no_partner)
                values[i] = column.values[partners[i]];
        }
        column.values = std::move(values);
        base.numbers.push_back(std::move(column));
    }
    for (auto& column : part.texts) {
        column.texts.emplace_back();  // no partner: an empty text
        const auto empty = static_cast<std::uint32_t>(column.texts.size() - 1);
        std::vector<std::uint32_t> values(base.rows, empty);
        for (std::size_t i = 0; i < base.rows; ++i) {
            if (partners[i] != no_partner)
                values[i] = column.values[partners[i]];
        }
        column.values = std::move(values);
        base.texts.push_back(std::move(column));
    }
}

}  // namespace

std::optional<double> usual_interval(const model::Table& table)
{
    const auto* times = table.number("time");
    std::vector<double> intervals;
    for (std::size_t row = 1; times != nullptr && row < times->values.size(); ++row)
        if (const double interval = times->values[row] - times->values[row - 1]; interval > 0)
            intervals.push_back(interval);
    if (intervals.empty())
        return std::nullopt;
    const auto middle = intervals.begin() + static_cast<std::ptrdiff_t>(intervals.size() / 2);
    std::ranges::nth_element(intervals, middle);
    return *middle;
}

Joined join_parts(std::vector<model::Table> parts, std::optional<double> within_s)
{
    const bool by_time =
        std::ranges::all_of(parts, [](const model::Table& part) { return part.number("time") != nullptr; });
    Joined joined;
    joined.parts.resize(parts.size());
    joined.table = std::move(parts.front());
    std::vector<bool> lonely(joined.table.rows, false);
    const auto own_interval = usual_interval(joined.table);
    for (std::size_t i = 1; i < parts.size(); ++i) {
        auto& part = parts[i];
        auto& told = joined.parts[i];
        told.within_s =
            within_s.value_or(std::max(own_interval.value_or(0.0), usual_interval(part).value_or(0.0)) / 2);
        const auto partners =
            by_time ? partners_in_time(joined.table, part, told) : partners_by_row(joined.table, part);
        for (std::size_t row = 0; row < partners.size(); ++row) {
            told.matched_rows += partners[row] == no_partner ? 0U : 1U;
            lonely[row] = lonely[row] || partners[row] == no_partner;
        }
        told.unmatched_rows = part.rows - told.matched_rows;
        add_columns(joined.table, part, partners);
    }
    auto& first = joined.parts.front();
    first.unmatched_rows = static_cast<std::size_t>(std::ranges::count(lonely, true));
    first.matched_rows = joined.table.rows - first.unmatched_rows;
    return joined;
}

}  // namespace luxdossier::intake
