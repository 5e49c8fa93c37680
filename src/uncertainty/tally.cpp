#include "uncertainty/tally.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace luxdossier::uncertainty {
namespace {

double edge(const TallyGrid& grid, std::size_t cell, double fraction)
{
    return grid.low + (static_cast<double>(cell - TallyGrid::first) + fraction) / grid.scale;
}

/// The value below which `rank` trials lie, counted upwards from the low end.
template <class Count>
std::optional<double> from_below(std::span<const Count> counts, const TallyGrid& grid, double rank)
{
    double below =
        static_cast<double>(counts[TallyGrid::undefined]) + static_cast<double>(counts[TallyGrid::below]);
    if (rank < below)
        return std::nullopt;
    for (std::size_t cell = TallyGrid::first; cell < TallyGrid::above; ++cell) {
        const double here = static_cast<double>(counts[cell]);
        if (here > 0.0 && below + here >= rank)
            return edge(grid, cell, (rank - below) / here);
        below += here;
    }
    return std::nullopt;
}

/// The value above which `rank` trials lie, counted downwards from the high end.
template <class Count>
std::optional<double> from_above(std::span<const Count> counts, const TallyGrid& grid, double rank)
{
    double above =
        static_cast<double>(counts[TallyGrid::undefined]) + static_cast<double>(counts[TallyGrid::above]);
    if (rank < above)
        return std::nullopt;
    for (std::size_t cell = TallyGrid::above - 1; cell >= TallyGrid::first; --cell) {
        const double here = static_cast<double>(counts[cell]);
        if (here > 0.0 && above + here >= rank)
            return edge(grid, cell, 1.0 - (rank - above) / here);
        above += here;
    }
    return std::nullopt;
}

template <class Count>
double total(std::span<const Count> counts)
{
    return static_cast<double>(std::accumulate(counts.begin(), counts.end(), std::uint64_t{0}));
}

template <class Count>
std::optional<Ends> symmetric(std::span<const Count> counts, const TallyGrid& grid,
                              double coverage_probability)
{
    const double rank = total(counts) * (1.0 - coverage_probability) / 2.0;
    const auto lower = from_below(counts, grid, rank);
    const auto upper = from_above(counts, grid, rank);
    if (!lower || !upper)
        return std::nullopt;
    return Ends{*lower, *upper};
}

}  // namespace

double numerical_tolerance(double value, int significant_digits)
{
    const double magnitude = std::abs(value);
    if (!(magnitude > 0.0) || !std::isfinite(magnitude))
        return 0.0;
    int exponent = static_cast<int>(std::floor(std::log10(magnitude))) - (significant_digits - 1);
    // 9.96 has two digits as 10, not as 9.9 and not as 99.6.
    if (std::round(magnitude / std::pow(10.0, exponent)) >= std::pow(10.0, significant_digits))
        ++exponent;
    return 0.5 * std::pow(10.0, exponent);
}

std::optional<TallyGrid> grid_for(std::vector<double> values, double coverage_probability, double widening)
{
    std::erase_if(values, [](double value) { return !std::isfinite(value); });
    if (values.empty())
        return std::nullopt;
    const double last = static_cast<double>(values.size() - 1);
    const auto rank = static_cast<std::ptrdiff_t>(last * (1.0 - coverage_probability) / 2.0);
    const auto at_lower = values.begin() + rank, at_upper = values.end() - 1 - rank;
    std::nth_element(values.begin(), at_lower, values.end());
    if (at_upper != at_lower)
        std::nth_element(at_lower + 1, at_upper, values.end());
    double lower = *at_lower, upper = *at_upper;
    if (!(upper > lower)) {
        const auto [least, greatest] = std::ranges::minmax(values);
        lower = least;
        upper = greatest;
    }
    const double margin = (upper - lower) * 0.5 * widening;
    const double low = lower - margin, high = upper + margin;
    const double scale = static_cast<double>(TallyGrid::cells) / (high - low);
    if (!(high > low) || !std::isfinite(scale) || !std::isfinite(low))
        return std::nullopt;
    return TallyGrid{low, scale};
}

std::optional<Ends> symmetric_interval(std::span<const std::uint16_t> counts, const TallyGrid& grid,
                                       double coverage_probability)
{
    return symmetric(counts, grid, coverage_probability);
}

std::optional<Ends> symmetric_interval(std::span<const std::uint32_t> counts, const TallyGrid& grid,
                                       double coverage_probability)
{
    return symmetric(counts, grid, coverage_probability);
}

double standard_deviation_of_ends(std::span<const std::uint32_t> counts, const TallyGrid& grid,
                                  double coverage_probability)
{
    constexpr double unknown = std::numeric_limits<double>::infinity();
    const auto found = symmetric(counts, grid, coverage_probability);
    if (!found)
        return unknown;
    constexpr std::ptrdiff_t beside = 16;  // cells: an eighth of u
    const double trials = total(counts), beyond = (1.0 - coverage_probability) / 2.0;
    const double share_scatter = std::sqrt(beyond * (1.0 - beyond) / trials);
    double greatest = 0.0;
    for (const double end : {found->lower, found->upper}) {
        const auto cell = static_cast<std::ptrdiff_t>(TallyGrid::first) +
                          static_cast<std::ptrdiff_t>((end - grid.low) * grid.scale);
        const auto from = std::max<std::ptrdiff_t>(cell - beside, TallyGrid::first);
        const auto to = std::min<std::ptrdiff_t>(cell + beside + 1, TallyGrid::above);
        double near = 0.0;
        for (auto at = from; at < to; ++at)
            near += static_cast<double>(counts[static_cast<std::size_t>(at)]);
        const double density = near / trials / static_cast<double>(to - from) * grid.scale;
        greatest = std::max(greatest, density > 0.0 ? share_scatter / density : unknown);
    }
    return greatest;
}

std::optional<Ends> shortest_interval(std::span<const std::uint32_t> counts, const TallyGrid& grid,
                                      double coverage_probability)
{
    const double wanted = total(counts) * coverage_probability;
    std::optional<Ends> best;
    double inside = 0.0;  // trials in the cells from `from` up to, not including, `to`
    std::size_t to = TallyGrid::first;
    for (std::size_t from = TallyGrid::first; from < TallyGrid::above; ++from) {
        while (to < TallyGrid::above && inside + static_cast<double>(counts[to]) < wanted)
            inside += static_cast<double>(counts[to++]);
        if (to == TallyGrid::above)
            break;
        const Ends ends{edge(grid, from, 0.0),
                        edge(grid, to, (wanted - inside) / static_cast<double>(counts[to]))};
        if (!best || ends.upper - ends.lower < best->upper - best->lower)
            best = ends;
        inside -= static_cast<double>(counts[from]);
    }
    return best;
}

void RunningMoments::add(double value)
{
    ++count_;
    const double step = value - mean_;
    mean_ += step / static_cast<double>(count_);
    squares_ += step * (value - mean_);
}

double RunningMoments::standard_deviation_of_mean() const
{
    if (count_ < 2)
        return std::numeric_limits<double>::infinity();
    const double n = static_cast<double>(count_);
    return std::sqrt(squares_ / (n - 1.0) / n);
}

}  // namespace luxdossier::uncertainty
