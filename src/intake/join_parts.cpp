#include "intake/join_parts.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace luxdossier::intake {
namespace {

constexpr auto no_partner = static_cast<std::size_t>(-1);

/// For each time, the index of the nearest other time; the earlier of two that are equally near.
std::vector<std::size_t> nearest_of(const std::vector<double>& times, const std::vector<double>& others)
{
    std::vector<std::size_t> nearest(times.size(), no_partner);
    std::size_t candidate = 0;
    for (std::size_t i = 0; i < times.size() && !others.empty(); ++i) {
        while (candidate + 1 < others.size() &&
               std::abs(others[candidate + 1] - times[i]) < std::abs(others[candidate] - times[i]))
            ++candidate;
        nearest[i] = candidate;
    }
    return nearest;
}

std::vector<std::size_t> partners_in_time(const model::Table& base, const model::Table& part, double within_s)
{
    const auto& times = base.number("time")->values;
    const auto& others = part.number("time")->values;
    auto partners = nearest_of(times, others);
    const auto back = nearest_of(others, times);
    for (std::size_t i = 0; i < partners.size(); ++i) {
        const auto partner = partners[i];
        // Times are decimal figures: a difference of exactly the tolerance counts although its last digit is
        // not exact.
        const auto is_pair = partner != no_partner && back[partner] == i &&
                             std::abs(others[partner] - times[i]) <= within_s * (1 + 1e-9) + 1e-9;
        if (!is_pair)
            partners[i] = no_partner;
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

Joined join_parts(std::vector<model::Table> parts, std::optional<double> within_s)
{
    Joined joined;
    joined.unmatched_rows.assign(parts.size(), 0);
    joined.table = std::move(parts.front());
    std::vector<bool> lonely(joined.table.rows, false);
    for (std::size_t i = 1; i < parts.size(); ++i) {
        auto& part = parts[i];
        const auto partners =
            within_s ? partners_in_time(joined.table, part, *within_s) : partners_by_row(joined.table, part);
        std::size_t matched = 0;
        for (std::size_t row = 0; row < partners.size(); ++row) {
            matched += partners[row] == no_partner ? 0U : 1U;
            lonely[row] = lonely[row] || partners[row] == no_partner;
        }
        joined.unmatched_rows[i] = part.rows - matched;
        add_columns(joined.table, part, partners);
    }
    joined.unmatched_rows.front() = static_cast<std::size_t>(std::ranges::count(lonely, true));
    return joined;
}

}  // namespace luxdossier::intake
