#include "intake/csv_reader.hpp"
#include "intake/short_decimal.hpp"

#include "memory_files.hpp"

#include <bit>
#include <charconv>
#include <cstdint>
#include <limits>
#include <random>

#include "support/catch.hpp"

using namespace luxdossier;
using intake::ColumnKind;
using intake::ColumnRequest;
using intake::CsvFormat;
using intake::Encoding;

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

ColumnRequest number(std::string heading)
{
    ColumnRequest request;
    request.meaning = heading;
    request.heading = std::move(heading);
    request.unit = "lx";
    return request;
}

ColumnRequest text(std::string heading)
{
    auto request = number(std::move(heading));
    request.kind = ColumnKind::text;
    return request;
}

struct Read {
    std::optional<model::Table> table;
    std::string messages;
};

Read read(const std::string& content, const std::vector<ColumnRequest>& requests,
          const CsvFormat& format = {})
{
    diagnostics::Diagnostics found;
    intake::Files::Answer file{intake::Files::State::regular, content, nullptr, content.size()};
    auto table = intake::read_csv("log.csv", file, format, requests, found);
    return {std::move(table), test::all_messages(found)};
}

bool same(const std::vector<double>& found, const std::vector<double>& expected)
{
    return std::ranges::equal(found, expected,
                              [](double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); });
}

std::vector<double> numbers(const Read& read, std::string_view meaning)
{
    REQUIRE(read.messages.empty());
    REQUIRE(read.table);
    return read.table->number(meaning)->values;
}

std::string utf16(const std::string& ascii, bool little, bool mark)
{
    std::string bytes = mark ? (little ? "\xFF\xFE" : "\xFE\xFF") : "";
    for (const auto c : ascii) {
        bytes += little ? c : '\0';
        bytes += little ? '\0' : c;
    }
    return bytes;
}

}  // namespace

TEST_CASE("only the requested columns are kept, in the order of the requests", "[intake][csv]")
{
    const auto found = read("a,b,c\n1,2,3\n4,5,6\n", {number("c"), number("a")});
    CHECK(same(numbers(found, "c"), {3, 6}));
    CHECK(same(numbers(found, "a"), {1, 4}));
    CHECK(found.table->numbers.size() == 2);
    CHECK(found.table->rows == 2);
    CHECK(found.table->lines.empty());
}

TEST_CASE("numbers are read to the last digit, signs and exponents included", "[intake][csv]")
{
    const auto found = read("a\n0.1\n-2.5e-3\n+7\n1e3\n 4 \n.5\n", {number("a")});
    CHECK(same(numbers(found, "a"), {0.1, -2.5e-3, 7, 1000, 4, 0.5}));
}

TEST_CASE("an empty cell is a missing reading, a row of empty cells a row", "[intake][csv]")
{
    const auto found = read("a,b\n1,\n,2\n,\n", {number("a"), number("b")});
    CHECK(same(numbers(found, "a"), {1, missing, missing}));
    CHECK(same(numbers(found, "b"), {missing, 2, missing}));
}

TEST_CASE("blank lines and comments are no rows, and lines are counted past them", "[intake][csv]")
{
    const auto found = read("# logger 7\n\na,b\n1,2\n# lamp moved\n\n3,4\n5,6\n", {number("a")});
    CHECK(same(numbers(found, "a"), {1, 3, 5}));
    CHECK(found.table->lines == std::vector<std::uint32_t>{4, 7, 8});
}

TEST_CASE("the delimiter is the one that gives all headings", "[intake][csv]")
{
    const std::string delimiter = GENERATE(",", ";", "\t", "|");
    CAPTURE(delimiter);
    const auto found = read("a" + delimiter + "b c\n1" + delimiter + "2\n", {number("a"), number("b c")});
    CHECK(same(numbers(found, "b c"), {2}));
}

TEST_CASE("the decimal mark is the one of the first number that shows it", "[intake][csv]")
{
    CHECK(same(numbers(read("a;b\n1;2\n1,5;2,25\n", {number("a"), number("b")}), "b"), {2, 2.25}));
    CHECK(same(numbers(read("a;b\n1;2\n1.5;2.25\n", {number("a"), number("b")}), "b"), {2, 2.25}));
    CHECK(read("a;b\n1,5;2.25\n", {number("a"), number("b")}).messages ==
          "log.csv:2:5: error: found \"2.25\" for \"b\", expected a number\n"
          "  2 | 1,5;2.25\n"
          "    |     ^^^^\n"
          "  advice: the decimal mark of this file is the comma\n");
}

TEST_CASE("a stated decimal comma is read in quotes beside comma delimiters", "[intake][csv]")
{
    CsvFormat format;
    format.delimiter = ';';
    format.decimal = ',';
    CHECK(same(numbers(read("a;b\n\"1,5\";-0,25\n", {number("a"), number("b")}, format), "b"), {-0.25}));
}

TEST_CASE("quoted cells may hold delimiters, quotes and line ends", "[intake][csv]")
{
    const auto found = read("\"a\",\"say \"\"b\"\"\",c\n1,\"x,y\",2\n3,\"first\nsecond\",4\n\"5\",\"\",6\n",
                            {number("a"), text("say \"b\""), number("c")});
    // The cell of the last row is empty, which a text may not be.
    CHECK(found.messages.find("found an empty cell for \"say \"b\"\"") != std::string::npos);
    CHECK(found.messages.find("log.csv:5:5:") != std::string::npos);
    const auto whole =
        read("a,b\n1,\"x,y\"\n3,\"first\nsecond\"\n5,\"say \"\"z\"\"\"\n", {number("a"), text("b")});
    CHECK(same(numbers(whole, "a"), {1, 3, 5}));
    CHECK(whole.table->text("b")->texts == std::vector<std::string>{"x,y", "first\nsecond", "say \"z\""});
    CHECK(whole.table->lines == std::vector<std::uint32_t>{2, 3, 5});
}

TEST_CASE("lines end with LF or CRLF, the last one also without", "[intake][csv]")
{
    const auto found = read("a,b\r\n1,2\r\n3,4", {number("a"), number("b")});
    CHECK(same(numbers(found, "a"), {1, 3}));
    CHECK(same(numbers(found, "b"), {2, 4}));
}

TEST_CASE("texts are kept once each", "[intake][csv]")
{
    const auto found = read("s\nA\nB\nA\nA\n", {text("s")});
    REQUIRE(found.table);
    CHECK(found.table->text("s")->texts == std::vector<std::string>{"A", "B"});
    CHECK(found.table->text("s")->values == std::vector<std::uint32_t>{0, 1, 0, 0});
}

TEST_CASE("skip_to goes to the heading line that begins with a text", "[intake][csv]")
{
    CsvFormat format;
    format.skip_to = "time";
    const auto found = read("logger,7\nserial,0815\ntime,a\n0,1\n", {number("a")}, format);
    CHECK(same(numbers(found, "a"), {1}));
    CHECK(found.table->lines == std::vector<std::uint32_t>{4});
}

TEST_CASE("text is read in every encoding that a logger may use", "[intake][csv]")
{
    const std::string plain = "a;b\n1,5;2\n";
    CsvFormat format;
    std::string content;
    SECTION("UTF-8 with byte order mark")
    {
        content = "\xEF\xBB\xBF" + plain;
    }
    SECTION("UTF-16, little-endian, by its byte order mark")
    {
        content = utf16(plain, true, true);
    }
    SECTION("UTF-16, big-endian, by its byte order mark")
    {
        content = utf16(plain, false, true);
        format.encoding = Encoding::utf16;
    }
    SECTION("UTF-16, little-endian, as stated")
    {
        content = utf16(plain, true, false);
        format.encoding = Encoding::utf16_little;
    }
    CHECK(same(numbers(read(content, {number("a"), number("b")}, format), "a"), {1.5}));
}

TEST_CASE("Latin-1 headings match the header's UTF-8", "[intake][csv]")
{
    CsvFormat format;
    format.encoding = Encoding::latin1;
    const auto found = read("St\xE4rke,\xB5\n1,2\n", {number("St\xC3\xA4rke"), number("\xC2\xB5")}, format);
    CHECK(same(numbers(found, "\xC2\xB5"), {2}));
}

TEST_CASE("date and time become seconds, an offset from UTC is honoured", "[intake][csv]")
{
    auto time = number("t");
    time.kind = ColumnKind::date_time;
    const auto found =
        read("t\n1970-01-01T00:00:10\n1970-01-01 01:00:00.25+01:00\n\n1970-01-02T00:00Z\n", {time});
    CHECK(same(numbers(found, "t"), {10, 0.25, 86400}));
}

TEST_CASE("units are converted, and levels without the noise of the last digit", "[intake][csv]")
{
    auto meter = number("meter");
    meter.conversion = {1000, 0};
    auto level = number("level");
    level.conversion = {0.001, 0};
    auto temperature = number("T");
    temperature.conversion = {1, 273.15};
    const auto found = read("meter,level,T\n0.0998,299.99999999999997,23\n", {meter, level, temperature});
    CHECK(same(numbers(found, "meter"), {99.8}));
    CHECK(same(numbers(found, "level"), {0.3}));
    CHECK(same(numbers(found, "T"), {296.15}));
}

TEST_CASE("a file that comes in small pieces reads like one that is held whole", "[intake][csv]")
{
    std::string content = "\xEF\xBB\xBFs;a;unused\n";
    for (int i = 0; i < 300; ++i)
        content += "\"S\xC3\xA4\n" + std::to_string(i % 3) + "\";" + std::to_string(i) + ",5;x\n";
    const std::vector<ColumnRequest> requests{text("s"), number("a")};
    const auto whole = read(content, requests);
    REQUIRE(whole.table);
    const std::size_t piece = GENERATE(1U, 2U, 3U, 7U, 1000U);
    const bool is_size_known = GENERATE(true, false);  // not that of a file that still grows
    CAPTURE(piece, is_size_known);
    for (const auto as_utf16 : {false, true}) {
        auto bytes = content;
        CsvFormat format;
        if (as_utf16) {
            bytes = utf16("s;a;unused\n0;0,5;x\n1;1,5;x\n", false, true);
        }
        intake::Files::Answer file{intake::Files::State::regular, "",
                                   std::make_shared<test::SmallPieces>(bytes, piece),
                                   is_size_known ? bytes.size() : 0};
        diagnostics::Diagnostics found;
        const auto table = intake::read_csv("log.csv", file, format, requests, found);
        CHECK(test::all_messages(found).empty());
        REQUIRE(table);
        if (as_utf16) {
            CHECK(same(table->number("a")->values, {0.5, 1.5}));
        } else {
            CHECK(same(table->number("a")->values, whole.table->number("a")->values));
            CHECK(table->text("s")->texts == whole.table->text("s")->texts);
            CHECK(table->text("s")->values == whole.table->text("s")->values);
            CHECK(table->lines == whole.table->lines);
        }
    }
}

TEST_CASE("numbers are read the same whatever the locale of the process", "[intake][csv]")
{
    const std::string before = std::setlocale(LC_ALL, nullptr);
    (void)std::setlocale(LC_ALL, "de_DE.UTF-8");  // where it is installed
    CHECK(same(numbers(read("a,b\n1.5,2.25\n", {number("a"), number("b")}), "b"), {2.25}));
    (void)std::setlocale(LC_ALL, before.c_str());
}

TEST_CASE("every byte that is no text is told with its place", "[intake][csv]")
{
    CHECK(read("a,b\n1,2\n3,\xC3(\n", {number("a")}).messages ==
          "log.csv:3:3: error: found byte 0xC3, which is no UTF-8 text, expected text in UTF-8\n"
          "  advice: state \"encoding\" in the run's \"format\": utf-8, utf-16, utf-16le, utf-16be or "
          "latin-1\n");
    // Cut off in the middle of a character.
    CHECK(read("a,b\n1,\xE2\x82", {number("a")}).messages.starts_with("log.csv:2:3: error: found byte 0xE2"));
    // An overlong form, a surrogate and a code point beyond Unicode: RFC 3629, section 3 and 4.
    for (const auto* bytes : {"\xC0\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80"})
        CHECK(read(std::string("a\n") + bytes + "\n", {text("a")})
                  .messages.starts_with("log.csv:2:1: error: found byte"));
}

TEST_CASE("short decimals have the bits of std::from_chars, whatever else is left to it", "[intake][csv]")
{
    std::mt19937_64 bits(11);
    for (int i = 0; i < 200000; ++i) {
        std::string text = bits() % 2 == 0 ? "-" : "";
        const auto before = 1 + bits() % 9, after = bits() % 7;
        for (std::uint64_t k = 0; k < before; ++k)
            text += static_cast<char>('0' + bits() % 10);
        if (after > 0)
            text += '.';
        for (std::uint64_t k = 0; k < after; ++k)
            text += static_cast<char>('0' + bits() % 10);
        text += ',';
        double found = 0, expected = 0;
        const auto* const end = intake::read_short_decimal(text.data(), found);
        const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), expected);
        REQUIRE(error == std::errc());
        REQUIRE(end == stop);
        REQUIRE(std::bit_cast<std::uint64_t>(found) == std::bit_cast<std::uint64_t>(expected));
    }
    double value = 0;
    for (const char* text :
         {"", ",", "-,", ".5,", "5.,", "-.5,", "+5,", "nan,", "1234567890123456,", "1.234567890123456,"}) {
        CAPTURE(text);
        CHECK(intake::read_short_decimal(text, value) == nullptr);
    }
    const std::string exponent = "5e3,";
    CHECK(*intake::read_short_decimal(exponent.data(), value) ==
          'e');  // no end of a cell: from_chars reads it
}

TEST_CASE("a number that can be read in two ways is taken only where another one tells the mark",
          "[intake][csv]")
{
    CHECK(read("a;b\n1;1,012\n2;1,013\n", {number("a"), number("b")}).messages ==
          "log.csv:2:3: error: found \"1,012\" for \"b\", which can be read as 1.012 and as 1012, expected a "
          "stated "
          "decimal mark\n"
          "  2 | 1;1,012\n"
          "    |   ^^^^^\n"
          "  advice: state \"decimal\": \",\" in the run's \"format\" if 1.012 is meant; write 1012 without "
          "a mark of "
          "thousands if that is\n");
    CHECK(read("a;b\n1;1.012\n", {number("a"), number("b")}).messages.find("1.012 and as 1012") !=
          std::string::npos);
    // A mark with other than three digits behind it, or with a leading 0, is a decimal mark: before or after.
    CHECK(same(numbers(read("a;b\n1;1,012\n2;998,4\n", {number("a"), number("b")}), "b"), {1.012, 998.4}));
    CHECK(same(numbers(read("a;b\n0,998;1,012\n", {number("a"), number("b")}), "b"), {1.012}));
    CHECK(same(numbers(read("a;b\n1;1,012\n1;1234,567\n", {number("a"), number("b")}), "b"),
               {1.012, 1234.567}));
    CsvFormat stated;
    stated.decimal = ',';
    CHECK(same(numbers(read("a;b\n1;1,012\n", {number("a"), number("b")}, stated), "b"), {1.012}));
    // A comma between the cells leaves the point to the numbers.
    CHECK(same(numbers(read("a,b\n1,1.012\n", {number("a"), number("b")}), "b"), {1.012}));
}

TEST_CASE("marks of both kinds in one file are told", "[intake][csv]")
{
    CHECK(read("level;b\n1,000;998.4\n", {number("level"), number("b")}).messages ==
          "log.csv:2:7: error: found \"998.4\" for \"b\" in a file with a comma in line 2, expected one "
          "decimal mark in "
          "the whole file\n"
          "  2 | 1,000;998.4\n"
          "    |       ^^^^^\n"
          "  advice: write numbers without marks of thousands, and state \"decimal\" in the run's "
          "\"format\"\n");
    CHECK_FALSE(read("a;b\n1;1,012\n1;1.012\n", {number("a"), number("b")}).table);
}

TEST_CASE("a quoted number with a comma beside comma delimiters shows both readings", "[intake][csv]")
{
    CHECK(read("a,b\n1,\"1,012\"\n", {number("a"), number("b")}).messages ==
          "log.csv:2:3: error: found \"1,012\" for \"b\", expected a number that can be read in one way\n"
          "  2 | 1,\"1,012\"\n"
          "    |   ^^^^^^^\n"
          "  advice: write 1012 if the comma marks thousands; state \"decimal\": \",\" in the run's "
          "\"format\" if it is "
          "the decimal mark (1.012)\n");
}

TEST_CASE("numbers with marks of thousands are refused with what to write", "[intake][csv]")
{
    const auto [cell, plain] = GENERATE(table<std::string, std::string>({{"1'012", "1012"},
                                                                         {"1 012 000", "1012000"},
                                                                         {"1,012.5", "1012.5"},
                                                                         {"-1.012.000", "-1012000"},
                                                                         {"1\xC2\xA0"
                                                                          "012,5",
                                                                          "1012.5"},
                                                                         {"1\xE2\x80\xAF"
                                                                          "012",
                                                                          "1012"}}));
    CAPTURE(cell);
    const auto found = read("a;b\n1;" + cell + "\n", {number("a"), number("b")});
    CHECK_FALSE(found.table);
    CHECK(found.messages.find("expected a number without marks of thousands") != std::string::npos);
    CHECK(found.messages.find("advice: write " + plain) != std::string::npos);
}

TEST_CASE(
    "lines among the rows that begin with # are kept for a remark, others only where they would be rows",
    "[intake][csv]")
{
    const std::string content =
        "# logger 7\na,b\n# s, lx of it\n#0,7\n1,2\n# lamp moved\n#3,4\n5,6\n# end of log\n"
        "# 9,10\n";
    diagnostics::Diagnostics found;
    intake::Files::Answer file{intake::Files::State::regular, content, nullptr, content.size()};
    intake::CsvComments comments;
    const std::vector<ColumnRequest> requests{number("a"), number("b")};
    REQUIRE(intake::read_csv("log.csv", file, {}, requests, found, &comments));
    CHECK(comments.among_rows == std::vector<std::uint32_t>{4, 6, 7, 10});
    CHECK(comments.like_rows == std::vector<std::uint32_t>{4, 7, 10});
}
