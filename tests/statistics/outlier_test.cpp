#include "statistics/summary.hpp"

#include <array>
#include <stdexcept>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::statistics;
using luxdossier::test::agree;
using luxdossier::test::published;

// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1: eight mass-spectrometer
// readings.
constexpr std::array spectrometer{199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57};

TEST_CASE("Grubbs' test finds the outlier of the handbook", "[statistics][published]")
{
    const auto found = grubbs(spectrometer);
    REQUIRE(found.has_value());
    CHECK(found->index == 7);
    CHECK(std::abs(found->statistic - 2.4687) <= 1e-4);  // printed truncated; exactly 2.468765
    CHECK(agree(found->statistic, 2.46876461121245, 1e-9));
    CHECK(found->statistic > found->critical_1);
    // The handbook's 2.032 is one-sided at 5 %, which is two-sided at 10 %.
    CHECK(published("NIST/SEMATECH e-Handbook, 1.3.5.17.1", "critical value, n = 8, 5 % one-sided", "2.032",
                    grubbs_critical(8, 0.10)) == "");
    CHECK(agree(found->critical_5, 2.1266450871956257, 1e-9));
}

TEST_CASE("a value just inside the straggler bound is no outlier", "[statistics]")
{
    auto values = spectrometer;
    values[7] = 204.4;
    CHECK_FALSE(grubbs(values).has_value());
    values[7] = 206.5;
    const auto straggler = grubbs(values);
    REQUIRE(straggler.has_value());
    CHECK(straggler->statistic > straggler->critical_5);
}

TEST_CASE("equal values and fewer than three have no outlier", "[statistics]")
{
    CHECK_FALSE(grubbs(std::array{1.0, 1.0, 1.0, 1.0}).has_value());
    CHECK_FALSE(grubbs(std::array{1.0, 99.0}).has_value());
    CHECK_THROWS_AS(grubbs_critical(2, 0.05), std::domain_error);
}

TEST_CASE("Cochran's critical values agree with ISO 5725-2, table 4", "[statistics]")
{
    // The 1 % columns for n = 2 and 3. The table has the exact points, ours follow from F with
    // 0.01/p, which is off by up to one of the last printed digit.
    struct Row {
        std::size_t p, n;
        double printed, recomputed;  // by scipy.stats.f, SciPy 1.10
    };
    for (const auto& row : {Row{5, 2, 0.928, 0.9278688494721024}, Row{10, 2, 0.718, 0.7174886322477523},
                            Row{5, 3, 0.788, 0.7885257473118871}, Row{10, 3, 0.536, 0.535841116638722}}) {
        CAPTURE(row.p, row.n);
        CHECK(std::abs(cochran_critical(row.p, row.n, 0.01) - row.printed) <= 0.001);
        CHECK(agree(cochran_critical(row.p, row.n, 0.01), row.recomputed, 1e-9));
    }
}

TEST_CASE("Cochran's test looks at the largest share of the variances", "[statistics]")
{
    CHECK(cochran_passes(std::array{1.0, 1.2, 0.8, 1.1, 0.9}, 3, 0.01));
    CHECK_FALSE(cochran_passes(std::array{1.0, 1.2, 0.8, 1.1, 40.0}, 3, 0.01));
    CHECK(cochran_passes(std::array{0.0, 0.0, 0.0}, 3, 0.01));
    CHECK_THROWS_AS(cochran_passes(std::array{1.0}, 3, 0.01), std::domain_error);
}
