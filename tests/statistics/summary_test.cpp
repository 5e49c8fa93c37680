#include "statistics/summary.hpp"

#include "statistics/lag_one.hpp"

#include <array>
#include <cstdint>
#include <stdexcept>
#include <vector>

#include "support/catch.hpp"
#include "support/published.hpp"

using namespace luxdossier::statistics;
using luxdossier::test::agree;
using luxdossier::test::certified;
using luxdossier::test::published;

namespace {

// NIST StRD, univariate summary statistics, Lottery (read from the NIST data file).
constexpr std::array<double, 218> lottery{
    162, 671, 933, 414, 788, 730, 817, 33,  536, 875, 670, 236, 473, 167, 877, 980, 316, 950, 456, 92,
    517, 557, 956, 954, 104, 178, 794, 278, 147, 773, 437, 435, 502, 610, 582, 780, 689, 562, 964, 791,
    28,  97,  848, 281, 858, 538, 660, 972, 671, 613, 867, 448, 738, 966, 139, 636, 847, 659, 754, 243,
    122, 455, 195, 968, 793, 59,  730, 361, 574, 522, 97,  762, 431, 158, 429, 414, 22,  629, 788, 999,
    187, 215, 810, 782, 47,  34,  108, 986, 25,  644, 829, 630, 315, 567, 919, 331, 207, 412, 242, 607,
    668, 944, 749, 168, 864, 442, 533, 805, 372, 63,  458, 777, 416, 340, 436, 140, 919, 350, 510, 572,
    905, 900, 85,  389, 473, 758, 444, 169, 625, 692, 140, 897, 672, 288, 312, 860, 724, 226, 884, 508,
    976, 741, 476, 417, 831, 15,  318, 432, 241, 114, 799, 955, 833, 358, 935, 146, 630, 830, 440, 642,
    356, 373, 271, 715, 367, 393, 190, 669, 8,   861, 108, 795, 269, 590, 326, 866, 64,  523, 862, 840,
    219, 382, 998, 4,   628, 305, 747, 247, 34,  747, 729, 645, 856, 974, 24,  568, 24,  694, 608, 480,
    410, 729, 947, 293, 53,  930, 223, 203, 677, 227, 62,  455, 387, 318, 562, 242, 428, 968};

/// NumAcc2 to 4: the middle value once, then the lower and the upper one in turn, 500 times each.
std::vector<double> numerical_accuracy(double lower, double middle, double upper)
{
    std::vector<double> values{middle};
    for (int pair = 0; pair < 500; ++pair) {
        values.push_back(lower);
        values.push_back(upper);
    }
    return values;
}

/// The 1000-point series of NIST SP 1065 (2008), 12.4: a multiplicative generator, first value included.
std::vector<double> stability_series()
{
    std::vector<double> values;
    std::uint64_t state = 1234567890;
    for (int index = 0; index < 1000; ++index) {
        values.push_back(static_cast<double>(state) / 2147483647.0);
        state = 16807 * state % 2147483647;
    }
    return values;
}

}  // namespace

TEST_CASE("summaries meet the certified values of NIST StRD", "[statistics][published]")
{
    const auto found = summarise(lottery);
    CHECK(certified("NIST StRD Lottery", "mean", "518.958715596330", found.mean, 14) == "");
    CHECK(certified("NIST StRD Lottery", "standard deviation", "291.699727470969", found.standard_deviation,
                    14) == "");
    CHECK(certified("NIST StRD Lottery", "lag-1 autocorrelation", "-0.120948622967393",
                    lag_one_autocorrelation(lottery), 13) == "");

    const std::array<double, 3> first{10000001, 10000003, 10000002};
    CHECK(certified("NIST StRD NumAcc1", "mean", "10000002", summarise(first).mean, 15) == "");
    CHECK(certified("NIST StRD NumAcc1", "standard deviation", "1", summarise(first).standard_deviation,
                    15) == "");
    CHECK(certified("NIST StRD NumAcc1", "lag-1 autocorrelation", "-0.5", lag_one_autocorrelation(first),
                    15) == "");

    // The data of NumAcc3 and 4 are rounded when they are read, by 1e-10 and 1e-9: s cannot be better than
    // that.
    struct Case {
        const char *name, *mean;
        double lower, middle, upper, digits_of_s;
    };
    for (const auto& test :
         {Case{"NIST StRD NumAcc2", "1.2", 1.1, 1.2, 1.3, 14},
          Case{"NIST StRD NumAcc3", "1000000.2", 1000000.1, 1000000.2, 1000000.3, 9},
          Case{"NIST StRD NumAcc4", "10000000.2", 10000000.1, 10000000.2, 10000000.3, 8}}) {
        CAPTURE(test.middle);
        const auto values = numerical_accuracy(test.lower, test.middle, test.upper);
        CHECK(certified(test.name, "mean", test.mean, summarise(values).mean, 15) == "");
        CHECK(certified(test.name, "standard deviation", "0.1", summarise(values).standard_deviation,
                        test.digits_of_s) == "");
        CHECK(certified(test.name, "lag-1 autocorrelation", "-0.999", lag_one_autocorrelation(values),
                        test.digits_of_s) == "");
    }
}

TEST_CASE("equal values have s = 0 exactly, also where their mean would round", "[statistics]")
{
    for (const std::size_t n : {2U, 3U, 7U, 49U}) {
        const std::vector<double> values(n, 0.1);
        CHECK(summarise(values).mean == 0.1);
        CHECK(summarise(values).standard_deviation == 0.0);
        CHECK(lag_one_autocorrelation(values) == 0.0);
        CHECK_FALSE(smallest_step(values).has_value());
    }
}

TEST_CASE("one value has a mean and no s, none has neither", "[statistics]")
{
    const std::array one{4.0};
    CHECK(summarise(one).mean == 4.0);
    CHECK(std::isnan(summarise(one).standard_deviation));
    CHECK(std::isnan(summarise({}).mean));
    CHECK(summarise({}).n == 0);
}

TEST_CASE("covariance of paired readings, JCGM 100:2008, H.2", "[statistics][published]")
{
    constexpr std::array volt{5.007, 4.994, 5.005, 4.990, 4.999};
    constexpr std::array radian{1.0456, 1.0438, 1.0468, 1.0428, 1.0433};
    const double r =
        covariance(volt, radian) / summarise(volt).standard_deviation / summarise(radian).standard_deviation;
    CHECK(published("JCGM 100:2008, H.2", "r(V, phi)", "0.86", r) == "");
    CHECK(agree(r, 0.8576242108399618, 1e-9));
    CHECK_THROWS_WITH(covariance(volt, std::array{1.0, 2.0}),
                      "found 5 and 2 paired readings, expected equal numbers of 2 or more");
    CHECK_THROWS_AS(covariance(std::array{1.0}, std::array{1.0}), std::domain_error);
}

TEST_CASE("the smallest step is the smallest difference that is not zero", "[statistics]")
{
    CHECK(smallest_step(std::array{3.0, 1.0, 1.0, 1.5}) == 0.5);
    CHECK_FALSE(smallest_step(std::array{2.0}).has_value());
    CHECK_FALSE(smallest_step({}).has_value());
}

TEST_CASE("overlapping Allan deviations of the 1000-point series, NIST SP 1065, table 31",
          "[statistics][published]")
{
    // Printed figures second-hand; the last column recomputed with numpy.
    const auto values = stability_series();
    CHECK(agree(values[1], 395529916.0 / 2147483647.0, 1e-15));
    CHECK(published("NIST SP 1065, Table 31", "mean of the 1000 points", "0.4897745",
                    summarise(values).mean) == "");
    CHECK(published("NIST SP 1065, Table 31", "standard deviation", "0.2884664",
                    summarise(values).standard_deviation) == "");
    CHECK(published("NIST SP 1065, Table 31", "overlapping Allan deviation over 1", "0.2922319",
                    overlapping_allan_deviation(values, 1)) == "");
    CHECK(published("NIST SP 1065, Table 31", "overlapping Allan deviation over 10", "0.09159953",
                    overlapping_allan_deviation(values, 10)) == "");
    CHECK(published("NIST SP 1065, Table 31", "overlapping Allan deviation over 100", "0.03241343",
                    overlapping_allan_deviation(values, 100)) == "");
    CHECK(agree(overlapping_allan_deviation(values, 100), 0.03241343026056978, 1e-11));
}

TEST_CASE("an Allan deviation needs one value more than two averages", "[statistics]")
{
    const std::array values{1.0, 2.0, 4.0, 8.0, 16.0};
    CHECK(overlapping_allan_deviation(values, 2) > 0.0);
    CHECK_THROWS_WITH(overlapping_allan_deviation(values, 3),
                      "found 5 levels for averages over 3, expected 7 or more");
    CHECK_THROWS_AS(overlapping_allan_deviation(values, 0), std::domain_error);
}
