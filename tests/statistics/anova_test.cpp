#include "statistics/anova.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::statistics;
using luxdossier::test::certified;
using luxdossier::test::published;

namespace {

using Groups = std::vector<std::vector<double>>;

// Source: NIST StRD, analysis of variance, SiRstv (resistivity of silicon).
const Groups silicon{{196.3052, 196.124, 196.189, 196.2569, 196.3403},
                     {196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
                     {196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
                     {196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
                     {196.2119, 196.1051, 196.185, 196.0052, 196.209}};

/// Source: NIST StRD, SmLs01: nine groups of 21 readings; behind the first come ten pairs of first -+ 0.1.
Groups nine_groups()
{
    Groups groups;
    for (const int tenths : {14, 13, 15, 13, 15, 13, 15, 13, 15}) {
        std::vector<double> group{tenths / 10.0};
        for (int i = 0; i < 10; ++i) {
            group.push_back((tenths - 1) / 10.0);
            group.push_back((tenths + 1) / 10.0);
        }
        groups.push_back(group);
    }
    return groups;
}

}  // namespace

TEST_CASE("the analysis of variance meets NIST SiRstv to 13 digits", "[anova][published]")
{
    const auto found = analyse_one_way(silicon);
    CHECK(found.df_between == 4);
    CHECK(found.df_within == 20);
    CHECK(certified("NIST StRD SiRstv", "sum of squares between", "5.11462616000000E-02", found.ss_between,
                    12.9) == "");
    CHECK(certified("NIST StRD SiRstv", "mean square between", "1.27865654000000E-02", found.ms_between,
                    12.9) == "");
    CHECK(certified("NIST StRD SiRstv", "F", "1.18046237440255E+00", found.f, 12.9) == "");
    CHECK(certified("NIST StRD SiRstv", "sum of squares within", "2.16636560000000E-01", found.ss_within,
                    12.9) == "");
    CHECK(certified("NIST StRD SiRstv", "mean square within", "1.08318280000000E-02", found.ms_within,
                    12.9) == "");
    CHECK(certified("NIST StRD SiRstv", "R squared", "1.90999039051129E-01", found.r_squared, 12.9) == "");
    CHECK(certified("NIST StRD SiRstv", "residual standard deviation", "1.04076068334656E-01",
                    found.residual_standard_deviation, 12.9) == "");
    // Second computation: SciPy's f_oneway; the component with 60 digits.
    CHECK(std::abs(found.p_value - 0.34944749340219355) < 1e-11);
    CHECK(std::abs(found.between_variance - 0.00039094748) < 1e-14);
}

TEST_CASE("the analysis of variance meets NIST SmLs01 to 13 digits and more", "[anova][published]")
{
    const auto found = analyse_one_way(nine_groups());
    CHECK(found.df_between == 8);
    CHECK(found.df_within == 180);
    CHECK(certified("NIST StRD SmLs01", "sum of squares between", "1.68", found.ss_between, 13) == "");
    CHECK(certified("NIST StRD SmLs01", "mean square between", "0.21", found.ms_between, 13) == "");
    CHECK(certified("NIST StRD SmLs01", "F", "21.0", found.f, 13) == "");
    CHECK(certified("NIST StRD SmLs01", "sum of squares within", "1.8", found.ss_within, 13) == "");
    CHECK(certified("NIST StRD SmLs01", "R squared", "0.482758620689655", found.r_squared, 13) == "");
    CHECK(certified("NIST StRD SmLs01", "residual standard deviation", "0.1",
                    found.residual_standard_deviation, 13) == "");
}

TEST_CASE("the between-day effect of the GUM's Zener standard has F = 2.26 and s_B = 43 uV",
          "[anova][published]")
{
    // JCGM 100:2008, H.5, Table H.9: means and standard deviations of ten days of five
    // readings. The guide prints F = (128/85)^2 = 2.25, s_B = 43, s_W = 85; full digits from a second
    // computation.
    const std::vector<double> mean_uv{172, 116, 13, 144, 106, 31, 60, 125, 163, 41};
    const std::vector<double> s_uv{60, 77, 111, 101, 67, 93, 80, 73, 88, 86};
    Groups days;
    for (std::size_t i = 0; i < mean_uv.size(); ++i) {
        const double step =
            s_uv[i] / std::sqrt(2.5) * 1e-6;  // five readings -2 ... 2 steps: s = sqrt(2.5) steps
        std::vector<double> day;
        for (int k = -2; k <= 2; ++k)
            day.push_back(10 + mean_uv[i] * 1e-6 + k * step);
        days.push_back(day);
    }
    const auto found = analyse_one_way(days);
    CHECK(std::abs(found.f - 2.2615192699707953) < 1e-7);
    CHECK(std::abs(std::sqrt(found.between_variance) * 1e6 - 42.638610567314586) < 1e-6);
    CHECK(std::abs(found.residual_standard_deviation * 1e6 - 84.88698369008054) < 1e-6);
    CHECK(std::abs(found.p_value - 0.03739682514493533) < 1e-7);
    CHECK(published("JCGM 100:2008, H.5", "s_B of ten days, Zener standard / uV", "43",
                    std::sqrt(found.between_variance) * 1e6) == "");
    CHECK(published("JCGM 100:2008, H.5", "s_W of ten days, Zener standard / uV", "85",
                    found.residual_standard_deviation * 1e6) == "");
}

TEST_CASE("a between-group variance that comes out negative is 0 with an upper bound", "[anova]")
{
    // By hand: MS_within = 1; means 2, 2.4, 2: MS_between = 0.16. SciPy: F(0.05; 2, 6) = 0.0517343.
    const auto found = analyse_one_way(Groups{{1, 2, 3}, {1.4, 2.4, 3.4}, {1, 2, 3}});
    CHECK(found.negative);
    CHECK(found.between_variance == 0);
    CHECK(std::abs(found.between_variance_upper - 0.6975751474748803) < 1e-9);
    // Below that quantile the bound is 0 as well.
    const auto alike = analyse_one_way(Groups{{1, 2, 3}, {1, 2, 3}, {1, 2, 3}});
    CHECK(alike.negative);
    CHECK(alike.between_variance_upper == 0);
}

TEST_CASE("groups of different size, without scatter, and too few readings", "[anova]")
{
    const auto uneven = analyse_one_way(Groups{{1, 2}, {3, 4, 5}, {6}});
    CHECK(std::abs(uneven.effective_size - (6 - 14.0 / 6) / 2) < 1e-15);
    const auto still = analyse_one_way(Groups{{1, 1}, {2, 2}});
    CHECK(std::isinf(still.f));
    CHECK(still.between_variance == 0.5);
    CHECK(still.between_variance_upper == 0.5);
    const auto same = analyse_one_way(Groups{{1, 1}, {1, 1}});
    CHECK(std::isnan(same.f));
    CHECK(same.r_squared == 0);
    CHECK_THROWS_AS(analyse_one_way(Groups{{1, 2, 3}}), std::domain_error);
    CHECK_THROWS_AS(analyse_one_way(Groups{{1}, {2}}), std::domain_error);
    CHECK_THROWS_AS(analyse_one_way(Groups{{1, 2}, {}}), std::domain_error);
}
