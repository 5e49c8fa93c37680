#include "record/json_writer.hpp"

#include <cmath>
#include <cstdint>
#include <cstring>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>

#include "support/catch.hpp"

using luxdossier::record::JsonWriter;
using nlohmann::json;

TEST_CASE("every finite number reads back exactly", "[record]")
{
    std::mt19937_64 bits(1);
    JsonWriter writer;
    std::vector<double> numbers{0.0,     -0.0, 0.1, 1e22, 5e-324, std::numeric_limits<double>::max(),
                                1.0 / 3, 100,  1e-7};
    while (numbers.size() < 2000) {
        const std::uint64_t pattern = bits();
        double number = 0;
        std::memcpy(&number, &pattern, sizeof number);
        if (std::isfinite(number))
            numbers.push_back(number);
    }
    writer.begin_list();
    for (const auto number : numbers)
        writer.number(number);
    writer.end_list();
    const auto read = json::parse(writer.take());
    REQUIRE(read.size() == numbers.size());
    for (std::size_t i = 0; i < numbers.size(); ++i)
        CHECK(read[i].get<double>() == numbers[i]);
}

TEST_CASE("what is not finite or not there is null", "[record]")
{
    JsonWriter writer;
    writer.begin_object();
    writer.number("infinite", std::numeric_limits<double>::infinity());
    writer.number("none", std::nullopt).number("nan", std::nan("")).text_or_null("text", "");
    writer.end_object();
    const auto read = json::parse(writer.take());
    for (const auto* key : {"infinite", "none", "nan", "text"})
        CHECK(read.at(key).is_null());
}

TEST_CASE("text reads back with quotes, backslashes, control characters and other scripts", "[record]")
{
    const std::string text = "\"a\\b\"\n\t\r\x01\x1f µ = 1.0 − λ";
    JsonWriter writer;
    writer.begin_object().text("key \"quoted\"", text).end_object();
    CHECK(json::parse(writer.take()).at("key \"quoted\"") == text);
}

TEST_CASE("nested lists and objects are separated as JSON asks", "[record]")
{
    JsonWriter writer;
    writer.begin_object().begin_list("empty").end_list().begin_list("rows");
    for (int row = 0; row < 2; ++row)
        writer.begin_list().number(row).number(row + 0.5).end_list();
    writer.end_list()
        .begin_object("o")
        .boolean("b", true)
        .integer("n", 18446744073709551615U)
        .end_object()
        .end_object();
    CHECK(json::parse(writer.take()) ==
          json::parse(R"({"empty":[],"rows":[[0,0.5],[1,1.5]],"o":{"b":true,"n":18446744073709551615}})"));
}
