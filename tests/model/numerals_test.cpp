#include "model/numerals.hpp"

#include <limits>

#include "support/catch.hpp"

using luxdossier::model::grouped_digits;
using luxdossier::model::numeral;

// ISO 80000-1:2009, 7.3.1: groups of three, from the decimal sign in both directions, apart by a small space.
TEST_CASE("digits stand in groups of three on both sides of the point", "[model]")
{
    CHECK(grouped_digits("1234567.891234") == "1\u2009234\u2009567.891\u2009234");
    CHECK(grouped_digits("1234.5678") == "1234.5678");
    CHECK(grouped_digits("-0.00") == "0.00");
    CHECK(grouped_digits("-12345") == "\u221212\u2009345");
}

TEST_CASE("a figure in a sentence is written out, rounded, without exponent", "[model]")
{
    CHECK(numeral(98267.4, 4) == "98\u2009270");
    CHECK(numeral(0.3159, 2) == "0.32");
    CHECK(numeral(0.30500, 4) == "0.305");
    CHECK(numeral(0.00002, 3) == "0.000\u200902");
    CHECK(numeral(-80, 4) == "\u221280");
    CHECK(numeral(100, 4) == "100");
    CHECK(numeral(999.96, 4) == "1000");
    CHECK(numeral(12345678, 2) == "12\u2009000\u2009000");
}

TEST_CASE("zero, infinity and what is no number are said in words or signs", "[model]")
{
    constexpr double infinity = std::numeric_limits<double>::infinity();
    CHECK(numeral(0.0, 3) == "0");
    CHECK(numeral(-0.0, 3) == "0");
    CHECK(numeral(-infinity, 3) == "\u2212∞");
    CHECK(numeral(std::numeric_limits<double>::quiet_NaN(), 3) == "not a number");
}
