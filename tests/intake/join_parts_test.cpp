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

std::vector<std::size_t> unmatched(const intake::Joined& joined)
{
    std::vector<std::size_t> rows;
    for (const auto& part : joined.parts)
        rows.push_back(part.unmatched_rows);
    return rows;
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
    CHECK(unmatched(joined) == std::vector<std::size_t>{3, 2});
    CHECK(joined.parts[1].matched_rows == 2);
    CHECK(std::abs(joined.parts[1].largest_time_difference_s - 0.1) < 1e-12);
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
    CHECK(unmatched(joined) == std::vector<std::size_t>{2, 0});
}

TEST_CASE("without times rows join by their number and what is over is counted", "[intake][join]")
{
    auto joined =
        intake::join_parts({table({}, "sensor", {1, 2}), table({}, "meter", {10, 20, 30})}, std::nullopt);
    CHECK(shown(joined.table.number("meter")->values) == "10 20 ");
    CHECK(unmatched(joined) == std::vector<std::size_t>{0, 1});
    auto shorter =
        intake::join_parts({table({}, "sensor", {1, 2, 3}), table({}, "meter", {10})}, std::nullopt);
    CHECK(shown(shorter.table.number("meter")->values) == "10 - - ");
    CHECK(unmatched(shorter) == std::vector<std::size_t>{2, 0});
}

TEST_CASE("three parts join to the rows of the first", "[intake][join]")
{
    auto joined = intake::join_parts(
        {table({0, 1}, "sensor", {1, 2}), table({0, 1}, "meter", {10, 20}), table({1}, "temperature", {23})},
        0.0);
    CHECK(shown(joined.table.number("temperature")->values) == "- 23 ");
    CHECK(unmatched(joined) == std::vector<std::size_t>{1, 0, 0});
}

TEST_CASE(
    "without a stated tolerance half the longer interval counts, and logs of other intervals pair by time",
    "[intake][join]")
{
    // A log a second beside one every two: the rows of the same number were read at other times.
    auto joined = intake::join_parts({table({0, 1, 2, 3, 4, 5}, "sensor", {1, 2, 3, 4, 5, 6}),
                                      table({0.2, 2.3, 4.1}, "meter", {10, 30, 50})},
                                     std::nullopt);
    CHECK(std::abs(joined.parts[1].within_s - 1.05) < 1e-12);
    CHECK(shown(joined.table.number("meter")->values) == "10 - 30 - 50 - ");
    CHECK(unmatched(joined) == std::vector<std::size_t>{3, 0});
}

TEST_CASE("logs that are half an interval apart pair one to one", "[intake][join]")
{
    std::vector<double> times, later, values;
    for (int row = 0; row < 50; ++row) {
        times.push_back(0.1 * row);
        later.push_back(0.1 * row + 0.05);
        values.push_back(row);
    }
    auto joined =
        intake::join_parts({table(times, "sensor", values), table(later, "meter", values)}, std::nullopt);
    CHECK(unmatched(joined) == std::vector<std::size_t>{0, 0});
    CHECK(joined.table.number("meter")->values == values);
}

TEST_CASE("rows with equal times pair in their order", "[intake][join]")
{
    // Two readings a second, time stamps of whole seconds.
    auto joined = intake::join_parts({table({0, 0, 1, 1, 2, 2}, "sensor", {1, 2, 3, 4, 5, 6}),
                                      table({0, 0, 1, 1, 2}, "meter", {10, 20, 30, 40, 50})},
                                     std::nullopt);
    CHECK(shown(joined.table.number("meter")->values) == "10 20 30 40 50 - ");
    CHECK(unmatched(joined) == std::vector<std::size_t>{1, 0});
}

TEST_CASE("a log that ends early leaves the rows behind its end without partner", "[intake][join]")
{
    auto joined = intake::join_parts(
        {table({0, 1, 2, 3, 4}, "sensor", {1, 2, 3, 4, 5}), table({0, 1, 2}, "meter", {10, 20, 30})},
        std::nullopt);
    CHECK(shown(joined.table.number("meter")->values) == "10 20 30 - - ");
    CHECK(unmatched(joined) == std::vector<std::size_t>{2, 0});
}
