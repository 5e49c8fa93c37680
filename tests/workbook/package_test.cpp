#include "workbook/package.hpp"

#include "seal/scratch.hpp"
#include "workbook/xlsx.hpp"

#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <system_error>

#include <zip.h>

#include "support/catch.hpp"

using namespace luxdossier;
namespace fs = std::filesystem;

namespace {

/// A workbook of two sheets with a text, a number, two formulas, a link and headings.
workbook::Expected write(const fs::path& file)
{
    workbook::Xlsx book(file, {"title", "subject", "author", "left", "below", "middle", "0.1.0", 0});
    auto& first = book.add_sheet("first");
    auto& second = book.add_sheet("second");
    first.text({0, 0}, " a <text> & _x0041_ with a\ttab\nand a \x01 control ");
    first.number({1, 1}, 0.1 + 0.2);
    first.number({1, 0}, -1.25e-300);
    first.number({1, 0}, 42);  // written over
    first.link({2, 0}, "second!A1", "there");
    second.headings(0, {{"a heading", false, 20}, {"another", true, 10}});
    second.formula({1, 0}, "first!B2<1", 1.0 / 3);
    second.formula({1, 1}, "\"a\"&\"<b\"", "a<b");
    book.close();

    const auto code = [](const char* name, const char* formula, const std::string& value) {
        return workbook::code_of_cell(name, formula, value);
    };
    workbook::Expected expected;
    expected.names = 3;  // two printed areas, one row of headings
    expected.sheets.resize(2);
    expected.sheets[0].name = "first";
    auto& one = expected.sheets[0].tally;
    one.add_cell(code("A1", "", " a <text> & _x005F_x0041_ with a\ttab\nand a _x0001_ control "));
    one.add_cell(code("A2", "", "42"));
    one.add_cell(code("B2", "", "0.3"));
    one.add_cell(code("A3", "", "there"));
    one.add_link(code("A3", "second!A1", ""));
    expected.sheets[1].name = "second";
    auto& two = expected.sheets[1].tally;
    two.add_cell(code("A1", "", "a heading"));
    two.add_cell(code("B1", "", "another"));
    two.add_cell(code("A2", "first!B2<1", "0.3333333333333333"));
    two.add_cell(code("B2", "\"a\"&\"<b\"", "a<b"));
    return expected;
}

/// Takes other text into a part of the file, as a lost piece of a temporary file would.
void change(const fs::path& file, const char* part, const std::string& from, const std::string& to)
{
    int error = 0;
    auto* archive = zip_open(file.c_str(), 0, &error);
    REQUIRE(archive != nullptr);
    zip_stat_t facts{};
    REQUIRE(zip_stat(archive, part, 0, &facts) == 0);
    std::string text(static_cast<std::size_t>(facts.size), '\0');
    auto* opened = zip_fopen(archive, part, 0);
    REQUIRE(zip_fread(opened, text.data(), text.size()) == static_cast<zip_int64_t>(text.size()));
    zip_fclose(opened);
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    text.replace(at, from.size(), to);
    auto* source = zip_source_buffer(archive, text.data(), text.size(), 0);
    REQUIRE(zip_file_replace(archive, facts.index, source, 0) == 0);
    REQUIRE(zip_close(archive) == 0);
}

std::string fault_of(const fs::path& file, const workbook::Expected& expected)
{
    try {
        workbook::check_package(file, expected);
    } catch (const std::system_error& fault) {
        return fault.what();
    }
    return {};
}

}  // namespace

TEST_CASE("a workbook reads back as it was written", "[workbook]")
{
    const test::Scratch scratch;
    const auto file = scratch / "book.xlsx";
    const auto expected = write(file);
    CHECK(fault_of(file, expected).empty());
    CHECK(std::distance(fs::directory_iterator(scratch.path()), fs::directory_iterator()) == 1);
}

TEST_CASE("whatever a workbook lost on its way to the disk is found", "[workbook]")
{
    const test::Scratch scratch;
    const auto file = scratch / "book.xlsx";
    const auto expected = write(file);
    constexpr const char *first = "xl/worksheets/sheet1.xml", *second = "xl/worksheets/sheet2.xml";
    struct Loss {
        const char *part, *from, *to, *words;
    };
    const auto loss = GENERATE(
        Loss{first, "<v>42</v>", "<v>2</v>",
             "\"first\" holds 4 cells and 1 links, 4 and 1 were written, with"},
        Loss{first, "&lt;text&gt;", "<text", "not well-formed"},
        Loss{first, "&lt;text&gt; ", "", "other content"}, Loss{first, "</sheetData>", "", "mismatched tag"},
        Loss{first, "</worksheet>", "", "no element found"},
        Loss{first, "location=\"second!A1\"", "location=\"second!A\"", "other content"},
        Loss{second, "first!B2&lt;1", "first!B2", "other content"},
        Loss{second, "<c r=\"B1\"", "<c r=\"C1\"", "other content"},
        Loss{"xl/workbook.xml", "name=\"second\"", "name=\"secon\"", "\"second\" was written"},
        Loss{"xl/styles.xml", "<cellXfs count=\"", "<cellXfs count=\"1", "holds"},
        Loss{"xl/_rels/workbook.xml.rels", "styles.xml", "style.xml", "relationships"},
        Loss{"[Content_Types].xml", "/xl/styles.xml", "/xl/style.xml", "list of its parts"});
    CAPTURE(loss.part, loss.from);
    change(file, loss.part, loss.from, loss.to);
    const auto fault = fault_of(file, expected);
    CAPTURE(fault);
    CHECK(fault.find(loss.words) != std::string::npos);
}

TEST_CASE("a workbook whose bytes changed on the disk does not read back", "[workbook]")
{
    const test::Scratch scratch;
    const auto file = scratch / "book.xlsx";
    const auto expected = write(file);
    std::ostringstream copy;
    copy << std::ifstream(file, std::ios::binary).rdbuf();
    const auto whole = copy.str();
    const auto put = [&file](const std::string& bytes) {
        std::ofstream(file, std::ios::binary | std::ios::trunc) << bytes;
    };
    for (const auto length : {whole.size() - 1, whole.size() / 2, std::size_t{0}}) {
        put(whole.substr(0, length));
        CHECK_FALSE(fault_of(file, expected).empty());
    }
    // Every 97th byte, wherever it stands: in a member, in its header, in the directory.
    std::size_t unseen = 0, tried = 0;
    for (std::size_t at = 0; at < whole.size(); at += 97, ++tried) {
        auto bytes = whole;
        bytes[at] = static_cast<char>(bytes[at] ^ 0x10);
        put(bytes);
        unseen += fault_of(file, expected).empty() ? 1U : 0U;
    }
    // Dates and attributes of members are no content.
    CHECK(unseen * 12 < tried);
}
