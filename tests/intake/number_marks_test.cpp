#include "intake/number_marks.hpp"

#include "support/catch.hpp"

using namespace luxdossier::intake;
using Kind = NumberMarks::Kind;

TEST_CASE("one mark with three digits behind one to three can be either, any other a decimal mark",
          "[intake][marks]")
{
    for (const auto* text : {"1,012", "12.345", "-123,456", "+9.000"}) {
        CAPTURE(text);
        CHECK(marks_of(text).kind == Kind::either);
    }
    for (const auto* text :
         {"0,012", "1234,567", "1,01", "1,0123", ",5", "5,", "1,012e3", "0.5", "012,345"}) {
        CAPTURE(text);
        CHECK(marks_of(text).kind == Kind::decimal);
    }
    CHECK(marks_of("-12,345").as_decimal == "-12.345");
    CHECK(marks_of("-12,345").ungrouped == "-12345");
}

TEST_CASE("digits in groups of three are a grouped number, whatever stands between the groups",
          "[intake][marks]")
{
    for (const auto* text : {"1,012,345", "1.012,5", "1,012.5", "1 012", "1'012.25", "12_345"}) {
        CAPTURE(text);
        CHECK(marks_of(text).kind == Kind::grouped);
    }
    CHECK(marks_of("1.012,5").ungrouped == "1012.5");
    CHECK(marks_of("1 012 345").ungrouped == "1012345");
}

TEST_CASE("digits alone and what is no number have no mark", "[intake][marks]")
{
    for (const auto* text :
         {"", "12", "-3", "1e5", "a,b", "1,012,34", "1,,2", ".", "1 2", "1.2.3", "NaN", "--1.5"}) {
        CAPTURE(text);
        CHECK(marks_of(text).kind == Kind::none);
    }
}
