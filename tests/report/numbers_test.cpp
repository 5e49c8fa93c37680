#include "report/numbers.hpp"

#include <limits>

#include "support/catch.hpp"

using namespace luxdossier::report;

TEST_CASE("U keeps two significant digits and the value ends at the same place", "[report]")
{
    struct Row {
        double value, uncertainty;
        const char *printed_value, *printed_uncertainty;
    };
    // JCGM 100:2008, 7.2.6: u = 10.47 prints as 10, 28.05 as 28; 10.05762 with u = 0.027 prints as 10.058.
    const auto row = GENERATE(values<Row>({
        {10.05762, 0.027, "10.058", "0.027"},
        {0, 10.47, "0", "10"},
        {0, 28.05, "0", "28"},
        {1.23456, 0.0996, "1.23", "0.10"},
        {1.23456, 0.0994, "1.235", "0.099"},
        {108.2467, 255.1, "110", "260"},
        {-2.9599, 3.2158, "\u22123.0", "3.2"},
        {1984.6, 61.3, "1985", "61"},
        {12345.6, 61.3, "12\u2009346", "61"},
        {-0.0004, 0.31, "0.00", "0.31"},
    }));
    CAPTURE(row.value, row.uncertainty);
    const auto rounded = rounded_result(row.value, row.uncertainty);
    CHECK(rounded.value == row.printed_value);
    CHECK(rounded.uncertainty == row.printed_uncertainty);
}

TEST_CASE("more than four digits stand in groups of three", "[report]")
{
    // ISO 80000-1:2009, 7.3.1.
    CHECK(number_text(1234, 0) == "1234");
    CHECK(number_text(12345, 0) == "12\u2009345");
    CHECK(number_text(0.123456, 6) == "0.123\u2009456");
    CHECK(stated_text(100000) == "100\u2009000");
    CHECK(stated_text(1e-05) == "0.000\u200901");
    CHECK(stated_text(6) == "6");
}

TEST_CASE("negative decimals round to tens and hundreds", "[report]")
{
    CHECK(number_text(108.2467, -1) == "110");
    CHECK(number_text(94, -2) == "100");
    CHECK(number_text(44, -2) == "0");
    CHECK(number_text(-44, -2) == "0");
    CHECK(number_text(0, -1) == "0");
}

TEST_CASE("a value and its unit are held together, a degree sign stands close", "[report]")
{
    CHECK(with_unit("5.0", "%") == "5.0\u202f%");
    CHECK(with_unit("60", "degree") == "60°");
    CHECK(with_unit("0.9", "1") == "0.9");
    CHECK(with_unit("1.4", "lx/(W/m2)") == "1.4\u202flx/(W/m²)");
}

TEST_CASE("very small and very large figures are printed with a power of ten", "[report]")
{
    CHECK(significant_text(0.0000123, 2) == "1.2\u202f×\u202f10⁻⁵");
    CHECK(significant_text(-97868.1, 3) == "\u221297\u2009900");
    CHECK(significant_text(2.5e7, 2) == "2.5\u202f×\u202f10⁷");
    CHECK(significant_text(std::numeric_limits<double>::quiet_NaN(), 2) == "not a number");
}

TEST_CASE("a probability that is not 1 is never printed as 100 %", "[report]")
{
    CHECK(probability_percent(0.99999) == "> 99.9");
    CHECK(probability_percent(0.977) == "97.7");
    CHECK(probability_percent(1e-9) == "< 0.1");
}
