#include "report/column_parts.hpp"

#include "support/catch.hpp"

using luxdossier::report::column_parts;
using Starts = std::vector<std::size_t>;

TEST_CASE("columns are parted among as few tables as hold them, evenly where that fits", "[report]")
{
    CHECK(column_parts({}, 100, 6).empty());
    CHECK(column_parts({30, 30, 30}, 100, 6) == Starts{0});
    CHECK(column_parts({30, 30, 30, 30, 30}, 130, 6) == Starts{0, 3});  // not four and one
    CHECK(column_parts({10, 10, 10, 10}, 100, 3) == Starts{0, 2});      // no more than three
    CHECK(column_parts({60, 30, 30, 30, 30}, 100, 6) == Starts{0, 2});  // one wide column parts no other
    CHECK(column_parts({30, 30, 30, 90}, 100, 6) == Starts{0, 3});      // even tables would not hold
    CHECK(column_parts({200, 30, 30}, 100, 6) == Starts{0, 1});         // wider than the room
    CHECK(column_parts({30, 200, 30}, 100, 6) == Starts{0, 1, 2});
}
