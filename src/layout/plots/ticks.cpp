#include "layout/plots/ticks.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace luxdossier::layout {
namespace {

constexpr std::array<double, 6> steps{1, 5, 2, 2.5, 4, 3};
constexpr double simplicity_weight = 0.25, coverage_weight = 0.2, density_weight = 0.5,
                 legibility_weight = 0.05;
constexpr double epsilon = 1e-10;

double score(double simplicity, double coverage, double density)
{
    return simplicity_weight * simplicity + coverage_weight * coverage + density_weight * density +
           legibility_weight;
}

double greatest_simplicity(std::size_t index, int skip)
{
    return 1 - static_cast<double>(index) / (steps.size() - 1.0) - skip + 1;
}

double simplicity(std::size_t index, int skip, double low, double high, double step)
{
    const double remainder = std::abs(std::remainder(low, step));
    const bool zero = remainder < epsilon * step && low <= 0 && high >= 0;
    return greatest_simplicity(index, skip) - 1 + (zero ? 1 : 0);
}

double coverage(double from, double to, double low, double high)
{
    const double range = 0.1 * (to - from);
    return 1 - 0.5 * ((to - high) * (to - high) + (from - low) * (from - low)) / (range * range);
}

double greatest_coverage(double from, double to, double span)
{
    const double half = std::max(0.0, (span - (to - from)) / 2);
    const double range = 0.1 * (to - from);
    return 1 - half * half / (range * range);
}

double density(int count, int wanted, double from, double to, double low, double high)
{
    const double found = (count - 1) / (high - low);
    const double target = (wanted - 1) / (std::max(high, to) - std::min(from, low));
    return 2 - std::max(found / target, target / found);
}

double greatest_density(int count, int wanted)
{
    return count >= wanted ? 2 - (count - 1.0) / (wanted - 1.0) : 1;
}

class Search {
public:
    Search(double from, double to, int wanted) : from_(from), to_(to), wanted_(std::max(2, wanted)) {}

    Ticks best()
    {
        constexpr int most_skipped = 20;
        for (int skip = 1; skip <= most_skipped; ++skip) {
            for (std::size_t index = 0; index < steps.size(); ++index) {
                if (score(greatest_simplicity(index, skip), 1, 1) < best_score_)
                    return result();
                try_counts(index, skip);
            }
        }
        return result();
    }

private:
    void try_counts(std::size_t index, int skip)
    {
        constexpr int most_ticks = 60;
        const double simple = greatest_simplicity(index, skip);
        for (int count = 2; count < most_ticks; ++count) {
            const double dense = greatest_density(count, wanted_);
            if (score(simple, 1, dense) < best_score_)
                return;
            const double delta = (to_ - from_) / (count + 1) / skip / steps.at(index);
            for (int exponent = static_cast<int>(std::ceil(std::log10(delta)));; ++exponent) {
                const double step = skip * steps.at(index) * std::pow(10.0, exponent);
                if (score(simple, greatest_coverage(from_, to_, step * (count - 1)), dense) < best_score_)
                    break;
                try_starts(index, skip, count, exponent, step);
                if (step * (count - 1) > 4 * (to_ - from_))
                    break;
            }
        }
    }

    void try_starts(std::size_t index, int skip, int count, int exponent, double step)
    {
        const auto first =
            static_cast<long>(std::floor(to_ / step)) * skip - static_cast<long>(count - 1) * skip;
        const auto last = static_cast<long>(std::ceil(from_ / step)) * skip;
        for (long start = first; start <= last; ++start) {
            const double low = static_cast<double>(start) * (step / skip), high = low + step * (count - 1);
            const double total =
                score(simplicity(index, skip, low, high, step), coverage(from_, to_, low, high),
                      density(count, wanted_, from_, to_, low, high));
            if (total > best_score_) {
                best_score_ = total;
                start_ = start;
                skip_ = skip;
                count_ = count;
                exponent_ = exponent;
                step_ = steps.at(index);
            }
        }
    }

    // Values as whole multiples of the step, so that no rounding error shows in a label.
    [[nodiscard]] Ticks result() const
    {
        Ticks ticks;
        for (int i = 0; i < count_; ++i) {
            const double multiple = (static_cast<double>(start_) + static_cast<double>(i) * skip_) * step_;
            ticks.values.push_back(exponent_ >= 0 ? multiple * std::pow(10.0, exponent_)
                                                  : multiple / std::pow(10.0, -exponent_));
        }
        const double step = skip_ * step_;
        const int own = step == std::floor(step) ? 0 : 1;
        ticks.decimals = std::max(0, own - exponent_);
        return ticks;
    }

    double from_, to_;
    int wanted_;
    double best_score_ = -2;
    long start_ = 0;
    int skip_ = 1, count_ = 0, exponent_ = 0;
    double step_ = 1;
};

}  // namespace

Ticks ticks(double from, double to, int count)
{
    return Search(from, to, count).best();
}

LogTicks log_ticks(double from, double to)
{
    constexpr double slack = 1 + 1e-9;
    LogTicks result;
    for (int exponent = static_cast<int>(std::floor(std::log10(from) - 1e-9));
         std::pow(10.0, exponent) <= to * slack; ++exponent) {
        for (int digit = 1; digit <= 9; ++digit) {
            const double value =
                exponent >= 0 ? digit * std::pow(10.0, exponent) : digit / std::pow(10.0, -exponent);
            if (value * slack < from || value > to * slack)
                continue;
            (digit == 1 ? result.major : result.minor).push_back(value);
        }
    }
    return result;
}

}  // namespace luxdossier::layout
