#include "report/small_dossier.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include "report/document.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::report;

namespace {

std::string fault_of(const std::string& text)
{
    try {
        static_cast<void>(compose(test::small_dossier(), text));
    } catch (const TemplateError& error) {
        return error.what();
    }
    return "";
}

template <typename Wanted>
std::vector<const Wanted*> blocks_of(const Document& document)
{
    std::vector<const Wanted*> found;
    for (const auto& block : document.blocks) {
        if (const auto* wanted = std::get_if<Wanted>(&block))
            found.push_back(wanted);
    }
    return found;
}

}  // namespace

TEST_CASE("an unknown placeholder is told with its place and the nearest known name", "[report]")
{
    const auto fault = fault_of("# Title\n\nReport {document.numbr} of today\n");
    CHECK_THAT(fault, Catch::Matchers::StartsWith(
                          "customer.md:3:8: error: found placeholder \"{document.numbr}\", expected "
                          "\"{document.number}\"\n"));
}

TEST_CASE("an unknown table, plot, chapter or kind is told with its line", "[report]")
{
    CHECK_THAT(fault_of("text\n\n![](table:verdict)\n"),
               Catch::Matchers::StartsWith(
                   "customer.md:3: error: found table \"verdict\" in \"table:verdict\", expected "
                   "\"verdicts\""));
    CHECK_THAT(fault_of("![](plot:nothing)\n"),
               Catch::Matchers::StartsWith("customer.md:1: error: found plot \"nothing\""));
    CHECK_THAT(fault_of("![](chapter:none)\n"),
               Catch::Matchers::StartsWith("customer.md:1: error: found chapter \"none\""));
    CHECK_THAT(fault_of("![](picture:x)\n"),
               Catch::Matchers::StartsWith("customer.md:1: error: found kind \"picture\""));
}

TEST_CASE("placeholders are filled and doubled braces are braces", "[report]")
{
    const auto document =
        compose(test::small_dossier(), "Report {document.number} {{as is}}, method {document.method}\n");
    const auto paragraphs = blocks_of<Paragraph>(document);
    REQUIRE(paragraphs.size() == 1);
    CHECK(plain_text(paragraphs[0]->text) == "Report K-1 {as is}, method not stated");
}

TEST_CASE("headings are numbered and those with nothing below are left out", "[report]")
{
    const auto document = compose(
        test::small_dossier(), "# One\n\ntext\n\n# Empty\n\n![](part:opinions)\n\n# Two\n\n## Sub\n\ntext\n");
    const auto headings = blocks_of<Heading>(document);
    REQUIRE(headings.size() == 3);
    CHECK(plain_text(headings[0]->text) == "1\u2003One");
    CHECK(plain_text(headings[1]->text) == "2\u2003Two");
    CHECK(plain_text(headings[2]->text) == "2.1\u2003Sub");
}

TEST_CASE("a report without number, title or issue date is a draft and says why", "[report]")
{
    auto dossier = test::small_dossier();
    CHECK(compose(dossier, "text\n").draft_reason.empty());
    dossier.qualification.document.number.clear();
    dossier.qualification.document.issued.reset();
    CHECK(compose(dossier, "text\n").draft_reason == "Draft: number, issue date not stated");
}

TEST_CASE("a chapter opens with the worst figure, its limit, margin and outcome", "[report]")
{
    const auto document = compose(test::small_dossier(), "![](chapter:*)\n");
    const auto paragraphs = blocks_of<Paragraph>(document);
    REQUIRE_FALSE(paragraphs.empty());
    CHECK(paragraphs[0]->lead);
    const auto text = plain_text(paragraphs[0]->text);
    CHECK_THAT(text,
               Catch::Matchers::Contains("By how much does the reading differ? Worst: reading error of "));
    CHECK_THAT(text, Catch::Matchers::Contains("margin \u2212"));
}

TEST_CASE("every verdict has its row, with outcome and strip", "[report]")
{
    const auto dossier = test::small_dossier();
    const auto document = compose(dossier, "![](table:every_verdict)\n");
    const auto tables = blocks_of<Table>(document);
    REQUIRE(tables.size() == 1);
    std::size_t rows = 0;
    for (const auto& row : tables[0]->rows) {
        if (row.spanning)
            continue;
        CHECK(row.cells.back().outcome == dossier.verdicts.verdicts.at(rows).outcome);
        CHECK(row.cells.at(3).strip.has_value());
        ++rows;
    }
    CHECK(rows == dossier.verdicts.verdicts.size());
}

TEST_CASE("wavelengths are read in nanometres and temperatures in degree Celsius, heading and cell alike")
{
    const model::ConditionQuantity wavelength{0.00000094, "m"};
    CHECK(condition_phrase("wavelength", wavelength) == "wavelength 940\u202fnm");
    CHECK(condition_heading("wavelength", "m") == "Wavelength / nm");
    CHECK(condition_cell("wavelength", wavelength) == "940");
    CHECK(condition_cell("temperature", model::ConditionQuantity{296.75, "K"}) == "23.6");
    CHECK(condition_cell("distance", model::ConditionQuantity{0.00005, "m"}) == "0.000\u200905");
}
