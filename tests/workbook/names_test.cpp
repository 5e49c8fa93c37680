#include "workbook/xlsx.hpp"

#include <filesystem>
#include <limits>
#include <string>

#include <sys/resource.h>

#include "support/catch.hpp"

using namespace luxdossier::workbook;

namespace {

std::filesystem::path scratch_file(const std::string& name)
{
    return std::filesystem::temp_directory_path() / ("luxdossier-names-test-" + name);
}

}  // namespace

TEST_CASE("cells are named as a spreadsheet names them", "[workbook]")
{
    CHECK(cell_name({0, 0}) == "A1");
    CHECK(cell_name({11, 25}) == "Z12");
    CHECK(cell_name({0, 26}) == "AA1");
    CHECK(cell_name({1'048'575, 16'383}) == "XFD1048576");
    CHECK(reference("model", {4, 2}) == "model!C5");
    CHECK(reference("run it's bare", {4, 2}) == "'run it''s bare'!C5");
    // R1C1 and A1 would read as cells without the apostrophes.
    CHECK(reference("R1", {0, 0}) == "'R1'!A1");
    CHECK(absolute_reference("limits", {3, 4}) == "limits!$E$4");
    CHECK(range_reference("run a", {4, 2}, {8, 2}) == "'run a'!C5:C9");
}

TEST_CASE("sheet names are valid and unlike each other", "[workbook]")
{
    std::vector<std::string> taken{"guide"};
    CHECK(sheet_name("Guide", taken) == "Guide (2)");
    CHECK(sheet_name("run a/b [c]:*?\\", taken) == "run a-b -c-----");
    CHECK(sheet_name("'quoted'", taken) == "quoted' (2)");
    const std::string longest(60, 'x');
    const auto first = sheet_name("run " + longest, taken), second = sheet_name("run " + longest, taken);
    CHECK(first.size() == 31);
    CHECK(second.size() == 31);
    CHECK(first != second);
    CHECK(sheet_name("history", taken) == "history sheet");
    // A character of two bytes is never cut in half: 30 bytes, then a character that would reach the 32nd.
    const std::string thirty(30, 'y');
    CHECK(sheet_name(thirty + "\u00e4\u00e4", taken) == thirty);
}

TEST_CASE("text arrives as text, control characters and what reads like their escapes included", "[workbook]")
{
    CHECK(cell_text("=1+1") ==
          "=1+1");  // written as a string cell: see the round trip in recalculate_test.py
    CHECK(cell_text("bell\x07") == "bell_x0007_");
    CHECK(cell_text("_x0041_") == "_x005F_x0041_");
    CHECK(cell_text("tab\tline\n") == "tab\tline\n");
    const auto cut = cell_text(std::string(40'000, 'z'));
    CHECK(cut.size() <= longest_text);
    CHECK(cut.ends_with("(cut: a cell holds no more)"));
}

TEST_CASE("a number that is not finite is refused and names its cell", "[workbook]")
{
    const auto file = scratch_file("finite.xlsx");
    Xlsx book(file, {});
    auto& sheet = book.add_sheet("numbers");
    CHECK_THROWS_WITH(
        sheet.number({2, 1}, std::numeric_limits<double>::infinity()),
        "workbook, sheet \"numbers\", cell B3: the number is inf, a sheet holds finite numbers only");
    CHECK_THROWS_WITH(
        sheet.formula({2, 1}, "1/0", std::numeric_limits<double>::quiet_NaN()),
        "workbook, sheet \"numbers\", cell B3: the formula 1/0 gives nan, a sheet holds finite numbers only");
    CHECK_THROWS_AS(sheet.formula({2, 1}, std::string(8192, '1'), 1.0), std::domain_error);
    CHECK_THROWS_AS(book.add_sheet("numbers"), std::logic_error);
}

TEST_CASE("a file that cannot be written is an error of the system", "[workbook]")
{
    CHECK_THROWS_AS(Xlsx("/nonexistent-directory/book.xlsx", {}), std::system_error);
}

TEST_CASE("a workbook has more sheets than files may be open at first", "[workbook]")
{
    rlimit before{};
    REQUIRE(getrlimit(RLIMIT_NOFILE, &before) == 0);
    constexpr rlim_t few = 40;
    REQUIRE(before.rlim_max > 2 * few);
    const rlimit tight{few, before.rlim_max};
    REQUIRE(setrlimit(RLIMIT_NOFILE, &tight) == 0);
    const auto file = scratch_file("sheets.xlsx");
    {
        Xlsx book(file, {});
        for (rlim_t i = 0; i < 2 * few; ++i)
            book.add_sheet("run " + std::to_string(i)).text({0, 0}, "reading");
        book.close();
    }
    CHECK(std::filesystem::file_size(file) > 0);
    std::filesystem::remove(file);
    CHECK(setrlimit(RLIMIT_NOFILE, &before) == 0);
}

TEST_CASE("links beyond what a spreadsheet follows on one sheet are words", "[workbook]")
{
    // A sheet holds 65 530 links (limits of the spreadsheet programs).
    const auto file = scratch_file("links.xlsx");
    Xlsx book(file, {});
    auto& sheet = book.add_sheet("budgets");
    CHECK_NOTHROW([&] {
        for (std::uint32_t row = 0; row < 65'600; ++row)
            sheet.link({row, 0}, "budgets!A1", "first");
        book.close();
    }());
    std::filesystem::remove(file);
}
