#include "layout/plots/scale.hpp"

#include "layout/plots/ticks.hpp"
#include "report/numbers.hpp"

#include <algorithm>
#include <cmath>

namespace luxdossier::layout {
namespace {

constexpr double air = 0.04;

void linear_ticks(Scale& scale, int count, bool free_from, bool free_to)
{
    const auto found = ticks(scale.from, scale.to, count);
    const double room = (scale.to - scale.from) * air;
    // An outer tick close by becomes the end of the axis.
    if (free_from && !found.values.empty() && found.values.front() < scale.from &&
        scale.from - found.values.front() < 2 * room)
        scale.from = found.values.front();
    if (free_to && !found.values.empty() && found.values.back() > scale.to &&
        found.values.back() - scale.to < 2 * room)
        scale.to = found.values.back();
    for (const double value : found.values) {
        if (scale.holds(value))
            scale.ticks.push_back({value, report::number_text(value, found.decimals), false});
    }
}

void logarithmic_ticks(Scale& scale)
{
    const auto found = log_ticks(scale.from, scale.to);
    // With fewer than two decades the multiples carry labels as well.
    const bool few = found.major.size() < 2;
    for (const double value : found.major)
        scale.ticks.push_back({value, report::stated_text(value), false});
    for (const double value : found.minor)
        scale.ticks.push_back({value, few ? report::stated_text(value) : std::string(), true});
}

}  // namespace

double Scale::place(double value) const
{
    const double share =
        logarithmic ? std::log(value / from) / std::log(to / from) : (value - from) / (to - from);
    return start + (end - start) * share;
}

double Scale::clamped(double value) const
{
    return std::clamp(value, from, to);
}

bool Scale::holds(double value) const
{
    const double slack = 1e-9 * (logarithmic ? value : to - from);
    return value >= from - slack && value <= to + slack;
}

void Extent::add(double value)
{
    if (!std::isfinite(value) || (logarithmic_ && value <= 0))
        return;
    from_ = empty_ ? value : std::min(from_, value);
    to_ = empty_ ? value : std::max(to_, value);
    empty_ = false;
}

Scale make_scale(const model::Axis& axis, const Extent& extent, int count)
{
    Scale scale;
    scale.logarithmic = axis.logarithmic;
    const bool positive = axis.logarithmic;
    double from = extent.empty() ? (positive ? 1 : 0) : extent.from();
    double to = extent.empty() ? (positive ? 10 : 1) : extent.to();
    if (positive) {
        const double share = to > from ? std::pow(to / from, air) : 2;
        from /= share;
        to *= share;
    } else {
        const double width = to > from ? to - from : std::max(1e-9, std::abs(to) * 0.1 + (to == 0 ? 1 : 0));
        from -= width * air;
        to += width * air;
    }
    scale.from = axis.from.value_or(from);
    scale.to = axis.to.value_or(to);
    if (!(scale.to > scale.from)) {
        scale.from = std::min(from, scale.from);
        scale.to = std::max(to, scale.from + 1e-9);
    }
    if (positive)
        logarithmic_ticks(scale);
    else
        linear_ticks(scale, count, !axis.from, !axis.to);
    return scale;
}

}  // namespace luxdossier::layout
