#include "uncertainty/block_kernels.hpp"

#include "uncertainty/coverage.hpp"
#include "uncertainty/derivative.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <functional>
#include <limits>
#include <vector>

#include "support/catch.hpp"

using namespace luxdossier::uncertainty;

namespace {

constexpr double pi = 3.141592653589793;

using Draw = std::function<void(const BlockKernels&, Stream&, Chunk&)>;

struct NamedDraw {
    const char* name;
    Draw draw;
    std::function<double(double)> probability;  ///< exact distribution function
};

double clamped(double value)
{
    return std::clamp(value, 0.0, 1.0);
}

/// Trapezium on [-1, 1] whose top is `ratio` of its base (JCGM 101:2008, 6.4.4.2).
double trapezoidal_probability(double x, double ratio)
{
    if (x <= -1.0 || x >= 1.0)
        return x < 0.0 ? 0.0 : 1.0;
    const double height = 1.0 / (1.0 + ratio);
    const double from_edge = 1.0 - std::abs(x);
    const double tail = std::abs(x) > ratio ? height * from_edge * from_edge / (2.0 * (1.0 - ratio))
                                            : height * (1.0 - ratio) / 2.0 + height * (ratio - std::abs(x));
    return x < 0.0 ? tail : 1.0 - tail;
}

std::vector<NamedDraw> draws()
{
    const auto t = [](double nu) {
        return NamedDraw{
            "t", [nu](const BlockKernels& k, Stream& s, Chunk& c) { k.student_t(s, nu, 3.0, 0.5, c.trials); },
            [nu](double x) { return t_probability((x - 3.0) / 0.5, nu); }};
    };
    return {
        {"rectangular",
         [](const BlockKernels& k, Stream& s, Chunk& c) { k.rectangular(s, -2.0, 5.0, c.trials); },
         [](double x) { return clamped((x + 2.0) / 5.0); }},
        {"triangular",
         [](const BlockKernels& k, Stream& s, Chunk& c) { k.trapezoidal(s, -1.0, 2.0, 0.5, c.trials); },
         [](double x) { return trapezoidal_probability(x, 0.0); }},
        {"trapezoidal",
         [](const BlockKernels& k, Stream& s, Chunk& c) { k.trapezoidal(s, -1.0, 2.0, 0.75, c.trials); },
         [](double x) { return trapezoidal_probability(x, 0.5); }},
        {"arcsine", [](const BlockKernels& k, Stream& s, Chunk& c) { k.arcsine(s, 1.0, 2.0, c.trials); },
         [](double x) { return 0.5 + std::asin(std::clamp((x - 1.0) / 2.0, -1.0, 1.0)) / pi; }},
        {"normal", [](const BlockKernels& k, Stream& s, Chunk& c) { k.normal(s, 10.0, 0.1, c.trials); },
         [](double x) { return t_probability((x - 10.0) / 0.1, infinite); }},
        t(1.0),
        t(2.5),
        t(19.0),
        t(1e6),
    };
}

/// Largest distance between the distribution of a sample and the exact one, times sqrt(n) (Kolmogorov).
double kolmogorov_distance(std::vector<double> sample, const std::function<double(double)>& probability)
{
    std::ranges::sort(sample);
    const double n = static_cast<double>(sample.size());
    double distance = 0.0;
    for (std::size_t i = 0; i < sample.size(); ++i) {
        const double exact = probability(sample[i]);
        distance =
            std::max({distance, static_cast<double>(i + 1) / n - exact, exact - static_cast<double>(i) / n});
    }
    return distance * std::sqrt(n);
}

bool same_bits(const double* a, const double* b, std::size_t count)
{
    return std::equal(a, a + count, b, [](double x, double y) {
        return std::bit_cast<std::uint64_t>(x) == std::bit_cast<std::uint64_t>(y);
    });
}

}  // namespace

TEST_CASE("each distribution is drawn as its exact distribution function says", "[uncertainty]")
{
    for (const auto& [name, draw, probability] : draws()) {
        CAPTURE(name);
        auto stream = stream_of(stream_key(1, name), 0);
        std::vector<double> sample;
        Chunk chunk;
        for (int i = 0; i < 400; ++i) {
            draw(widest_kernels(), stream, chunk);
            sample.insert(sample.end(), chunk.trials, chunk.trials + chunk_trials);
        }
        // 1.95 is exceeded once in a thousand seeds.
        CHECK(kolmogorov_distance(std::move(sample), probability) < 1.95);
    }
}

TEST_CASE("every vector width draws the same bits", "[uncertainty]")
{
    for (const auto& [name, draw, probability] : draws())
        for (const auto* kernels : available_kernels()) {
            CAPTURE(name, kernels->name);
            auto wide = stream_of(stream_key(7, name), 3), narrow = wide;
            for (int i = 0; i < 50; ++i) {
                Chunk a, b;
                draw(*kernels, wide, a);
                draw(sse2_kernels(), narrow, b);
                REQUIRE(same_bits(a.trials, b.trials, chunk_trials));
            }
        }
}

TEST_CASE("draws take the lanes' numbers in order", "[uncertainty]")
{
    for (const auto* kernels : available_kernels()) {
        CAPTURE(kernels->name);
        auto stream = stream_of(stream_key(1, "x"), 0), reference = stream;
        Chunk chunk;
        kernels->rectangular(stream, 0.0, 1.0, chunk.trials);
        for (std::size_t trial = 0; trial < chunk_trials; ++trial)
            CHECK(chunk.trials[trial] == open_unit(next_of_lane(reference, trial % stream_lanes)));
    }
}

TEST_CASE("the two coordinates of a t share their radius and are not correlated", "[uncertainty]")
{
    // x^2 + y^2 of a standard bivariate t with nu: (x^2 + y^2)/2 follows F(2, nu), so that
    // P(x^2 + y^2 <= r) = 1 - (1 + r/nu)^(-nu/2).
    constexpr double nu = 4.0;
    auto stream = stream_of(stream_key(1, "pair"), 0);
    std::vector<double> radii;
    double product = 0.0;
    for (int i = 0; i < 400; ++i) {
        Chunk a, b;
        widest_kernels().standard_pair(stream, nu, a.trials, b.trials);
        for (std::size_t trial = 0; trial < chunk_trials; ++trial) {
            radii.push_back(a.trials[trial] * a.trials[trial] + b.trials[trial] * b.trials[trial]);
            product += std::atan(a.trials[trial]) * std::atan(b.trials[trial]);
        }
    }
    CHECK(std::abs(product / static_cast<double>(radii.size())) < 0.005);
    CHECK(kolmogorov_distance(radii, [](double r) { return 1.0 - std::pow(1.0 + r / nu, -nu / 2.0); }) <
          1.95);
}

TEST_CASE("every vector width computes the same bits, near those of the scalar operations", "[uncertainty]")
{
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    Chunk left, right;
    auto stream = stream_of(stream_key(1, "operands"), 0);
    sse2_kernels().student_t(stream, 2.0, 0.5, 0.4, left.trials);
    sse2_kernels().rectangular(stream, 0.1, 2.0, right.trials);
    left.trials[3] = left.trials[5] = nan;
    right.trials[4] = right.trials[5] = nan;
    left.trials[6] = right.trials[6];
    left.trials[7] = std::numeric_limits<double>::infinity();
    left.trials[8] = 0.0;
    for (int index = static_cast<int>(Operation::add); index < static_cast<int>(Operation::estimate);
         ++index) {
        const auto operation = static_cast<Operation>(index);
        CAPTURE(index);
        Chunk narrow;
        const auto compute = [&](const BlockKernels& kernels, Chunk& out) {
            if (operand_count(operation) > 1)
                kernels.binary(operation, {left.trials}, {right.trials}, out.trials);
            else
                kernels.unary(operation, left.trials, out.trials);
        };
        compute(sse2_kernels(), narrow);
        for (const auto* kernels : available_kernels()) {
            Chunk wide;
            compute(*kernels, wide);
            for (std::size_t trial = 0; trial < chunk_trials; ++trial)
                REQUIRE((std::isnan(narrow.trials[trial])
                             ? std::isnan(wide.trials[trial])
                             : same_bits(&wide.trials[trial], &narrow.trials[trial], 1)));
        }
        for (std::size_t trial = 0; trial < chunk_trials; ++trial) {
            const double exact = operation_value(operation, left.trials[trial], right.trials[trial]);
            CAPTURE(trial, left.trials[trial], right.trials[trial]);
            if (std::isnan(exact))
                CHECK(std::isnan(narrow.trials[trial]));
            else if (std::isinf(exact))
                CHECK(narrow.trials[trial] == exact);
            else
                CHECK(std::abs(narrow.trials[trial] - exact) <= 1e-15 * std::abs(exact));
        }
    }
}

TEST_CASE("an operand may be one value for all trials", "[uncertainty]")
{
    Chunk x, out;
    auto stream = stream_of(stream_key(1, "x"), 0);
    for (const auto* kernels : available_kernels()) {
        kernels->rectangular(stream, 1.0, 2.0, x.trials);
        kernels->binary(Operation::subtract, {nullptr, 5.0}, {x.trials}, out.trials);
        CHECK(out.trials[17] == 5.0 - x.trials[17]);
        kernels->binary(Operation::power, {x.trials}, {nullptr, 2.0}, out.trials);
        CHECK(out.trials[17] == x.trials[17] * x.trials[17]);
    }
}

TEST_CASE("a tally counts what lies below, in, above and nowhere, alike at every width", "[uncertainty]")
{
    Chunk chunk;
    auto stream = stream_of(stream_key(1, "x"), 0);
    sse2_kernels().normal(stream, 0.0, 1.0, chunk.trials);
    chunk.trials[0] = std::numeric_limits<double>::quiet_NaN();
    chunk.trials[1] = std::numeric_limits<double>::infinity();
    chunk.trials[2] = -std::numeric_limits<double>::infinity();
    chunk.trials[3] = -1.0;  // on the lower end: in the first cell
    const TallyGrid grid{-1.0, TallyGrid::cells / 2.0};
    std::size_t below = 0, above = 0;
    for (const double value : chunk.trials) {
        below += value < -1.0 ? 1U : 0U;
        above += value >= 1.0 ? 1U : 0U;
    }
    std::vector<std::uint16_t> narrow(TallyGrid::counters, 0);
    TallySums narrow_sums;
    sse2_kernels().tally(chunk.trials, grid, 0.25, narrow.data(), narrow_sums);
    CHECK(narrow[TallyGrid::below] == below);
    CHECK(narrow[TallyGrid::above] == above);
    CHECK(narrow[TallyGrid::undefined] == 1);
    CHECK(narrow[TallyGrid::first] >= 1);
    CHECK(narrow_sums.not_finite[0] + narrow_sums.not_finite[1] + narrow_sums.not_finite[2] == 3.0);
    for (const auto* kernels : available_kernels()) {
        CAPTURE(kernels->name);
        std::vector<std::uint16_t> counts(TallyGrid::counters, 0);
        TallySums sums;
        kernels->tally(chunk.trials, grid, 0.25, counts.data(), sums);
        CHECK(counts == narrow);
        CHECK(same_bits(sums.deviation, narrow_sums.deviation, stream_lanes));
        CHECK(same_bits(sums.square, narrow_sums.square, stream_lanes));
        std::vector<std::uint64_t> mask(chunk_trials + 8, ~std::uint64_t{0});
        auto* const aligned =
            mask.data() + (64 - reinterpret_cast<std::uintptr_t>(mask.data()) % 64) % 64 / 8;
        const auto inside = kernels->within(chunk.trials, -1.0, 0.5, aligned);
        CHECK(inside == static_cast<std::size_t>(std::ranges::count_if(
                            chunk.trials, [](double value) { return value >= -1.0 && value <= 0.5; })));
        CHECK(static_cast<std::size_t>(std::count(aligned, aligned + chunk_trials, ~std::uint64_t{0})) ==
              inside);
    }
}
