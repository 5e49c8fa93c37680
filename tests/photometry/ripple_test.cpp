#include "photometry/ripple.hpp"

#include <cmath>
#include <numbers>
#include <random>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::photometry;

namespace {

constexpr double pi = std::numbers::pi;

struct Waveform {
    std::vector<double> time_s, signal;
};

template <typename Light>
Waveform sampled(double rate_hz, std::size_t n, const Light& light)
{
    Waveform waveform;
    for (std::size_t i = 0; i < n; ++i) {
        waveform.time_s.push_back(static_cast<double>(i) / rate_hz);
        waveform.signal.push_back(light(waveform.time_s.back()));
    }
    return waveform;
}

/// One period of a wave in 20 000 steps.
template <typename Light>
std::vector<double> period_of(const Light& light)
{
    std::vector<double> period;
    for (int i = 0; i < 20000; ++i)
        period.push_back(light((i + 0.5) / 20000));
    return period;
}

const std::vector<Harmonic> sine{{1, 0, 1}};

/// Of values at even phases.
double flicker_index(std::span<const double> period)
{
    std::vector<double> phases;
    for (std::size_t i = 0; i < period.size(); ++i)
        phases.push_back(static_cast<double>(i) / static_cast<double>(period.size()));
    return flicker_areas(phases, period).of_steps;
}

}  // namespace

TEST_CASE("the error of an average over a sine is m |sin(pi f T)/(pi f T)| at the worst phase", "[ripple]")
{
    // Closed form; brute-force search over the phase in a second computation agrees to 1e-8.
    const auto worst = [](double f, double t) { return worst_case(sine, f, {t, 0, 0}).error; };
    CHECK(std::abs(worst(100, 0.01667) - 0.16526552484988477) < 1e-9);
    CHECK(std::abs(worst(100, 0.105) - 0.03031522725559911) < 1e-9);
    CHECK(std::abs(worst(120, 0.01) - 0.15591488063143982) < 1e-9);
    CHECK(std::abs(worst(120, 0.105) - 0.024026245353671694) < 1e-9);
    CHECK(worst(100, 0.01) < 1e-9);
    CHECK(worst(100, 0.05) < 1e-9);
}

TEST_CASE("percent flicker and flicker index of sine, square and triangle are those of the closed forms",
          "[ripple][published]")
{
    // ANSI/IES LS-1: 100 %; 0.318, 0.5, 0.25.
    const auto of_sine = period_of([](double x) { return 1 + std::sin(2 * pi * x); });
    CHECK(std::abs(percent_flicker(of_sine) - 1) < 1e-7);
    CHECK(luxdossier::test::published("ANSI/IES LS-1", "flicker index of a sine", "0.318",
                                      flicker_index(of_sine)) == "");
    CHECK(std::abs(flicker_index(of_sine) - 1 / pi) < 1e-7);
    CHECK(std::abs(flicker_index(period_of([](double x) { return x < 0.5 ? 2.0 : 0.0; })) - 0.5) < 1e-9);
    CHECK(std::abs(flicker_index(period_of([](double x) { return 4 * std::abs(x - 0.5); })) - 0.25) < 1e-7);
    const auto shallow = period_of([](double x) { return 1 + 0.3 * std::sin(2 * pi * x); });
    CHECK(std::abs(flicker_index(shallow) - 0.0954929658551372) < 1e-7);
    CHECK(std::abs(percent_flicker(shallow) - 0.3) < 1e-7);
}

TEST_CASE("a flicker index from uneven phases is that of the closed form", "[ripple]")
{
    // 1 + sin: 1/pi. One phase in 40 is missing, which equal weights would make an error of 1 % and more.
    for (int missing = 0; missing < 40; ++missing) {
        std::vector<double> phases, values;
        for (int i = 0; i < 40; ++i)
            if (i != missing) {
                phases.push_back((i + 0.3) / 40);
                values.push_back(1 + std::sin(2 * pi * phases.back()));
            }
        const auto areas = flicker_areas(phases, values);
        CAPTURE(missing);
        CHECK(std::abs(areas.of_lines - 1 / pi) < 0.001);
        CHECK(std::abs(areas.of_steps - 1 / pi) < 0.003);
    }
    // By hand: 1/4 + 1 + 1/4 of four with a crossing at either side, each with 2/12 for what chords cut off.
    const auto square = flicker_areas(std::vector{0.0, 0.25, 0.5, 0.75}, std::vector{2.0, 2.0, 0.0, 0.0});
    CHECK(square.of_steps == 0.5);
    CHECK(std::abs(square.of_lines - (1.5 + 2 * 2.0 / 12) / 4) < 1e-15);
}

TEST_CASE("the supply frequency alone bounds any periodic light: max(x, 1 - x)/(f T)", "[ripple]")
{
    // By hand: 1.667 cycles leave x = 0.667; a whole number leaves nothing; short flashes reach the bound.
    CHECK(std::abs(periodic_light_bound(100, {0.01667, 0, 0}) - 0.667 / 1.667) < 1e-12);
    CHECK(std::abs(periodic_light_bound(100, {0.0125, 0, 0}) - 0.75 / 1.25) < 1e-12);
    CHECK(periodic_light_bound(100, {0.05, 0, 0}) == 0);
    // With 1 % of frequency the fifth cycle may just be caught or missed: 1/5.
    CHECK(std::abs(periodic_light_bound(100, {0.05, 0, 0.01}) - 1.0 / 5) < 1e-12);
    // Second route: light in one short flash a period, counted over many starts.
    const double cycles = 2.3;
    double worst = 0;
    for (int i = 0; i < 1000; ++i) {
        const double start = i / 1000.0;
        const double flashes = std::floor(start + cycles) - std::floor(start);
        worst = std::max(worst, std::abs(flashes / cycles - 1));
    }
    CHECK(std::abs(periodic_light_bound(100, {cycles / 100, 0, 0}) - worst) < 1e-9);
}

TEST_CASE("a waveform gives back its frequency, harmonics and noise", "[ripple]")
{
    std::mt19937_64 bits(7);
    std::normal_distribution<double> noise(0, 0.002);
    const double f = 99.87;
    const auto waveform = sampled(10000, 2000, [&](double t) {
        return 3 * (1 + 0.28 * std::cos(2 * pi * f * t + 0.4) + 0.06 * std::cos(4 * pi * f * t + 0.4)) +
               3 * noise(bits);
    });
    const auto found = analyse_ripple(waveform.time_s, waveform.signal);
    REQUIRE(found.ripple);
    const auto& ripple = *found.ripple;
    CHECK(std::abs(ripple.frequency_hz - f) < 4 * ripple.u_frequency_hz);
    CHECK(ripple.u_frequency_hz < 0.003);
    CHECK(std::abs(ripple.mean - 3) < 0.001);
    REQUIRE(ripple.harmonics.size() >= 2);
    CHECK(std::abs(ripple.harmonics[0].amplitude() - 0.28) < 4 * ripple.u_amplitude);
    CHECK(std::abs(ripple.harmonics[1].amplitude() - 0.06) < 4 * ripple.u_amplitude);
    CHECK(std::abs(ripple.relative_noise - 0.002) < 0.0002);
    CHECK(std::abs(ripple.periods - 19.974) < 0.001);
}

TEST_CASE("a stronger second harmonic is not taken for the fundamental", "[ripple]")
{
    const auto waveform = sampled(5000, 1000, [](double t) {
        return 1 + 0.1 * std::cos(2 * pi * 50 * t) + 0.3 * std::cos(2 * pi * 100 * t);
    });
    const auto found = analyse_ripple(waveform.time_s, waveform.signal);
    REQUIRE(found.ripple);
    CHECK(std::abs(found.ripple->frequency_hz - 50) < 1e-6);
}

TEST_CASE("constant light, noise alone and unusable records are told apart", "[ripple]")
{
    const auto still = sampled(1000, 100, [](double) { return 2.0; });
    REQUIRE(analyse_ripple(still.time_s, still.signal).ripple);
    CHECK(analyse_ripple(still.time_s, still.signal).ripple->constant);
    std::mt19937_64 bits(3);
    std::normal_distribution<double> noise(0, 0.01);
    const auto noisy = sampled(1000, 500, [&](double) { return 1 + noise(bits); });
    CHECK(analyse_ripple(noisy.time_s, noisy.signal).ripple->constant);
    const auto few = sampled(1000, 15, [](double t) { return 1 + t; });
    CHECK(analyse_ripple(few.time_s, few.signal).reason == "fewer than 16 readings tell no waveform");
    auto uneven = sampled(1000, 100, [](double) { return 1.0; });
    uneven.time_s[50] += 0.0005;
    CHECK(analyse_ripple(uneven.time_s, uneven.signal).reason ==
          "the readings are not evenly spaced in time");
    const auto dark = sampled(1000, 100, [](double) { return 0.0; });
    CHECK(analyse_ripple(dark.time_s, dark.signal).reason == "the mean of the waveform is not above 0");
}

TEST_CASE("the shortest integration time keeps the ripple under the stated error from there on", "[ripple]")
{
    // A sine, no tolerances: the arches of |sin(pi x)/(pi x)| peak near x = 5.5 with 0.0579 and x = 6.5 with
    // 0.0490: below 0.05 for good from where the first of the two falls through it.
    const double time_s = shortest_integration_time(sine, 100, {0, 0, 0}, 0.05);
    const double x = 100 * time_s;
    CHECK(std::abs(std::abs(sinc(x)) - 0.05) < 1e-9);
    CHECK(x > 5.5);
    CHECK(x < 6);
    for (double longer = time_s; longer < 0.3; longer += 1e-4)
        CHECK(worst_case(sine, 100, {longer, 0, 0}).error <= 0.05 * (1 + 1e-9));
    // Within 1 % of frequency the time is longer.
    CHECK(shortest_integration_time(sine, 100, {0, 0, 0.01}, 0.05) > time_s);
    CHECK(shortest_integration_time({}, 100, {0, 0, 0.01}, 0.05) == 0);
}
