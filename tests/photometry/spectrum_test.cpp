#include "photometry/spectrum.hpp"

#include <cmath>
#include <vector>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::photometry;
using luxdossier::test::agree;

namespace {

struct Curve {
    std::vector<double> x, y;
    [[nodiscard]] Tabulated view() const { return {x, y}; }
};

template <typename Function>
Curve tabulate(int from_nm, int to_nm, Function function)
{
    Curve curve;
    for (int at = from_nm; at <= to_nm; ++at) {
        curve.x.push_back(at * 1e-9);
        curve.y.push_back(function(static_cast<double>(at)));
    }
    return curve;
}

// White source of two Gaussians, a formula, so that NumPy and we tabulate the same.
double white(double at)
{
    return std::exp(-std::pow((at - 450) / 9, 2) / 2) + 0.55 * std::exp(-std::pow((at - 560) / 48, 2) / 2);
}

}  // namespace

TEST_CASE("V(lambda) has the entries and the integral of the CIE table", "[photometry][published]")
{
    // CIE 018:2019, Table 1 (seen in an open copy of the table): V(555) = 1, V(510) = 0.503; integral 106.857
    // nm.
    using luxdossier::test::published;
    CHECK(published("ISO/CIE 23539", "V(555 nm)", "1.0000000", luminous_efficiency(555)) == "");
    CHECK(published("ISO/CIE 23539", "V(510 nm)", "0.5030000", luminous_efficiency(510)) == "");
    CHECK(published("ISO/CIE 23539", "V(550 nm)", "0.9949501", luminous_efficiency(550)) == "");
    CHECK(luminous_efficiency(359.9) == 0.0);
    CHECK(luminous_efficiency(830.1) == 0.0);
    CHECK(luminous_efficiency(830) > 0.0);
    double sum = 0;
    for (int at = 360; at <= 830; ++at)
        sum += luminous_efficiency(at);
    CHECK(agree(sum, 106.8569171011719, 1e-12));
    CHECK(agree(luminous_efficiency(555.5), (1.0 + luminous_efficiency(556)) / 2, 1e-15));
}

TEST_CASE("illuminant A has the figures of its table", "[photometry][published]")
{
    // ISO/CIE 11664-2: 9.79510 at 380 nm, 100.000 at 560 nm, 241.675 at 780 nm.
    CHECK(luxdossier::test::published("ISO/CIE 11664-2", "illuminant A at 380 nm", "9.79510",
                                      incandescent_distribution(380)) == "");
    CHECK(agree(incandescent_distribution(560), 100.0, 1e-15));
    CHECK(luxdossier::test::published("ISO/CIE 11664-2", "illuminant A at 560 nm", "100.000",
                                      incandescent_distribution(560)) == "");
    CHECK(luxdossier::test::published("ISO/CIE 11664-2", "illuminant A at 780 nm", "241.675",
                                      incandescent_distribution(780)) == "");
    CHECK(incandescent_distribution(450, 3200) > incandescent_distribution(450, 2856));
}

TEST_CASE("a detector that follows V(lambda) needs no spectral correction", "[photometry]")
{
    const auto source = tabulate(380, 780, white);
    const auto ideal = tabulate(360, 830, luminous_efficiency);
    CHECK(agree(spectral_mismatch_factor(source.view(), ideal.view()).value(), 1.0, 1e-13));
    CHECK(general_mismatch_index(ideal.view()).value() < 1e-14);
}

TEST_CASE("the mismatch factor agrees with NumPy on analytic detectors", "[photometry]")
{
    // Definition CIE S 017:2020, 17-25-115; figures recomputed with NumPy, trapezoid 1 nm, 380 nm to 780 nm.
    // V outside that range is 5e-6 of its integral, which bounds the difference to our 360 nm to 830 nm.
    const auto source = tabulate(380, 780, white);
    const auto power = tabulate(380, 780, [](double at) { return std::pow(luminous_efficiency(at), 1.05); });
    const auto flat = tabulate(380, 780, [](double) { return 1.0; });
    const auto shifted = tabulate(380, 780, [](double at) { return luminous_efficiency(at - 5); });
    CHECK(agree(spectral_mismatch_factor(source.view(), power.view()).value(), 0.9915713767423159, 1e-5));
    CHECK(agree(spectral_mismatch_factor(source.view(), flat.view()).value(), 2.2288296731548463, 1e-5));
    CHECK(spectral_mismatch_factor(source.view(), shifted.view()).value() > 1.0);
    // f1' of V^1.05, trapezoid 1 nm: 0.02415725910452892 (ISO/CIE 19476).
    CHECK(agree(general_mismatch_index(power.view()).value(), 0.02415725910452892, 1e-3));
    CHECK(agree(general_mismatch_index(flat.view()).value(), 1.0718714424963287, 1e-5));
}

TEST_CASE("spectra that do not overlap give no mismatch factor", "[photometry]")
{
    const auto emitter = tabulate(900, 980, [](double) { return 1.0; });
    const auto ideal = tabulate(360, 830, luminous_efficiency);
    CHECK_FALSE(spectral_mismatch_factor(emitter.view(), ideal.view()).has_value());
    CHECK_FALSE(general_mismatch_index(emitter.view()).has_value());
    CHECK_FALSE(spectral_mismatch_factor(Tabulated{}, ideal.view()).has_value());
}
