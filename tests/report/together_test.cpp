#include "report/together.hpp"

#include "support/catch.hpp"

using luxdossier::report::joined_subjects;
using luxdossier::report::told_together;

TEST_CASE("sentences that differ only in a figure are told once, from the least to the greatest", "[report]")
{
    const auto told = told_together({"M2 read 98\u2009236 lx, outside the range",
                                     "M2 read 97\u2009557 lx, outside the range",
                                     "M2 read 100\u2009350 lx, outside the range"});
    REQUIRE(told.size() == 1);
    CHECK(told[0].text == "M2 read 97\u2009557 to 100\u2009350 lx, outside the range");
    CHECK(told[0].members == std::vector<std::size_t>{0, 1, 2});
}

TEST_CASE("figures that are part of a name keep sentences apart", "[report]")
{
    CHECK(told_together({"M1 read 5 lx", "M2 read 5 lx"}).size() == 2);
    CHECK(told_together({"certificate 3-A", "certificate 4-A"}).size() == 2);
    CHECK(told_together({"run a: 2 readings", "run b: 2 readings"}).size() == 2);
}

TEST_CASE("a figure at both sides of zero is compared as a number", "[report]")
{
    CHECK(told_together({"by \u22122.5 %", "by 10 %", "by \u221210 %"}).front().text ==
          "by \u221210 to 10 %");
    CHECK(told_together({"by 2 %", "by 2 %"}).front().text == "by 2 %");
    CHECK(told_together({}).empty());
}

TEST_CASE("subjects of one kind share the word for it", "[report]")
{
    CHECK(joined_subjects({"run a", "run b", "run c"}) == "runs a, b and c");
    CHECK(joined_subjects({"run a, S1", "run b, S2"}) == "runs a, S1; b, S2");
    CHECK(joined_subjects({"run a"}) == "run a");
    CHECK(joined_subjects({"run a", "source b"}) == "run a and source b");
}
