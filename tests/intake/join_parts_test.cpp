#include "intake/join_parts.hpp"

#include <cmath>
#include <limits>

#include "support/catch.hpp"

using namespace luxdossier;

namespace {

model::Table table(std::vector<double> times, std::string meaning, std::vector<double> values)
{
    model::Table made;
    made.rows = values.size();
    if (!times.empty())
        made.numbers.push_back({"time", "t", "s", "s", std::move(times)});
    made.numbers.push_back({meaning, meaning, "lx", "lx", std::move(values)});
    return made;
}

std::string shown(const std::vector<double>& values)
{
    std::string text;
    for (const auto value : values)
        text += std::isnan(value) ? "- " : std::to_string(static_cast<int>(value)) + " ";
    return text;
}

}  // namespace

TEST_CASE("rows join by time where each is the other's nearest and near enough", "[intake][join]")
{
    auto joined = intake::join_parts({table({0, 1, 2, 3, 10}, "sensor", {1, 2, 3, 4, 5}),
                                      table({0.1, 2.1, 2.4, 7}, "meter", {10, 30, 31, 70})},
                                     0.2);
    CHECK(shown(joined.table.number("sensor")->values) == "1 2 3 4 5 ");
    CHECK(shown(joined.table.number("meter")->values) == "10 - 30 - - ");
    CHECK(shown(joined.table.number("time")->values) == "0 1 2 3 10 ");
    CHECK(joined.unmatched_rows == std::vector<std::size_t>{3, 2});
    CHECK(joined.table.rows == 5);
}

TEST_CASE("a difference of exactly the tolerance is near enough", "[intake][join]")
{
    // 0.3 - 0.1 is a little above 0.2 in binary.
    auto joined = intake::join_parts({table({0.1}, "sensor", {1}), table({0.3}, "meter", {2})}, 0.2);
    CHECK(shown(joined.table.number("meter")->values) == "2 ");
}

TEST_CASE("no row is used twice", "[intake][join]")
{
    auto joined =
        intake::join_parts({table({0, 0.1, 0.2}, "sensor", {1, 2, 3}), table({0.1}, "meter", {9})}, 1.0);
    CHECK(shown(joined.table.number("meter")->values) == "- 9 - ");
    CHECK(joined.unmatched_rows == std::vector<std::size_t>{2, 0});
}

TEST_CASE("without a tolerance rows join by their number and what is over is counted", "[intake][join]")
{
    auto joined =
        intake::join_parts({table({}, "sensor", {1, 2}), table({}, "meter", {10, 20, 30})}, std::nullopt);
    CHECK(shown(joined.table.number("meter")->values) == "10 20 ");
    CHECK(joined.unmatched_rows == std::vector<std::size_t>{0, 1});
    auto shorter =
        intake::join_parts({table({}, "sensor", {1, 2, 3}), table({}, "meter", {10})}, std::nullopt);
    CHECK(shown(shorter.table.number("meter")->values) == "10 - - ");
    CHECK(shorter.unmatched_rows == std::vector<std::size_t>{2, 0});
}

TEST_CASE("three parts join to the rows of the first", "[intake][join]")
{
    auto joined = intake::join_parts(
        {table({0, 1}, "sensor", {1, 2}), table({0, 1}, "meter", {10, 20}), table({1}, "temperature", {23})},
        0.0);
    CHECK(shown(joined.table.number("temperature")->values) == "- 23 ");
    CHECK(joined.unmatched_rows == std::vector<std::size_t>{1, 0, 0});
}
