#include "diagnostics/diagnostic.hpp"

#include "support/catch.hpp"

using namespace luxdossier::diagnostics;

namespace {

Diagnostic at(std::string file, std::size_t line, std::size_t column, std::string found)
{
    Diagnostic made;
    made.location = {std::move(file), line, column, ""};
    made.found = std::move(found);
    return made;
}

}  // namespace

TEST_CASE("a message shows place, finding, expectation, line, caret and advice", "[diagnostics]")
{
    auto fault = at("bench-07.csv", 41, 0, "found unit \"lux\" for illuminance");
    point_at(fault, "3, 100.2, lux, 23.1", 10, 3);
    fault.expected = "\"lx\"";
    fault.advice = "write lx, the SI symbol";
    CHECK(render(fault) == "bench-07.csv:41:11: error: found unit \"lux\" for illuminance, expected \"lx\"\n"
                           "  41 | 3, 100.2, lux, 23.1\n"
                           "     |           ^^^\n"
                           "  advice: write lx, the SI symbol\n");
}

TEST_CASE("parts of a message that are not known are left out", "[diagnostics]")
{
    CHECK(render(at("readings.csv", 0, 0, "found an empty file")) ==
          "readings.csv: error: found an empty file\n");
    auto fault = at("qualification.json", 3, 0, "found null");
    fault.location.pointer = "/runs/0";
    fault.severity = Severity::warning;
    CHECK(render(fault) == "qualification.json:3: warning: found null (at /runs/0)\n");
}

TEST_CASE("columns and carets count characters, not bytes, and follow tabs", "[diagnostics]")
{
    auto fault = at("a.csv", 1, 0, "found x");
    const std::string line = "Lichtst\xC3\xA4rke\t\xC2\xB5,x";
    point_at(fault, line, line.find('x'), 1);
    CHECK(fault.location.column == 15);
    CHECK(render(fault) == "a.csv:1:15: error: found x\n"
                           "  1 | " +
                               line +
                               "\n"
                               "    |            \t  ^\n");
}

TEST_CASE("a long line is cut to what stands around the caret", "[diagnostics]")
{
    auto fault = at("a.csv", 1, 0, "found !");
    const auto line = std::string(500, 'a') + "!" + std::string(500, 'b');
    point_at(fault, line, 500, 1);
    CHECK(fault.location.column == 501);
    CHECK(render(fault) == "a.csv:1:501: error: found !\n"
                           "  1 | ..." +
                               std::string(60, 'a') + "!" + std::string(39, 'b') +
                               "...\n"
                               "    |    " +
                               std::string(60, ' ') + "^\n");
}

TEST_CASE("a caret never runs beyond the shown line", "[diagnostics]")
{
    auto fault = at("a.csv", 1, 0, "found a long text");
    point_at(fault, std::string(500, 'a'), 80, 400);
    CHECK(fault.caret_length == 40);
}

TEST_CASE("control characters of a file do not reach the terminal", "[diagnostics]")
{
    auto fault = at("a.csv", 1, 0, "found " + quoted("\x1B[2Jx"));
    point_at(fault, "a\x1B[2J", 0, 1);
    CHECK(render(fault).find('\x1B') == std::string::npos);
}

TEST_CASE("faults are sorted by file as it was read, then by place, and told once", "[diagnostics]")
{
    Diagnostics all;
    all.add(at("b.csv", 2, 1, "third"));
    all.add(at("a.csv", 9, 1, "fifth"));
    all.add(at("b.csv", 1, 7, "second"));
    all.add(at("b.csv", 1, 2, "first"));
    all.add(at("a.csv", 1, 1, "fourth"));
    all.add(at("b.csv", 1, 2, "first"));
    const std::vector<std::string> files{"b.csv", "a.csv"};
    all.sort_by_location(files);
    std::string order;
    for (const auto& one : all.all())
        order += one.found + " ";
    CHECK(order == "first second third fourth fifth ");
}

TEST_CASE("only errors count as errors", "[diagnostics]")
{
    Diagnostics all;
    auto warning = at("a.csv", 1, 1, "found something odd");
    warning.severity = Severity::warning;
    all.add(warning);
    CHECK_FALSE(all.has_errors());
    all.add(at("a.csv", 1, 1, "found something wrong"));
    CHECK(all.has_errors());
}

TEST_CASE("the nearest name is found within a third of its length, a swap being one slip", "[diagnostics]")
{
    const std::vector<std::string_view> names{"configuration", "source", "sample", "angle", "led"};
    CHECK(nearest("sorce", names) == "source");
    CHECK(nearest("angel", names) == "angle");
    CHECK(nearest("lde", names) == "led");
    CHECK(nearest("konfigurasion", names) == "configuration");
    CHECK(nearest("temperature", names).empty());
    CHECK(nearest("", names).empty());
    CHECK(nearest("x", {}).empty());
}
