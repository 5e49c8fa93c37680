#include "pdf/pdf.hpp"

#include "report/small_dossier.hpp"

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <tuple>

#include "report/document.hpp"

#define POINTERHOLDER_TRANSITION 4  // qpdf 11: std::shared_ptr throughout
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFObjectHandle.hh>
#include <qpdf/QPDFOutlineDocumentHelper.hh>

#include "support/catch.hpp"

using namespace luxdossier;

namespace {

std::string written(const model::Dossier& dossier, const std::filesystem::path& file)
{
    pdf::write_pdf(layout::lay_out(report::compose(dossier, test::customer_template()), dossier),
                   dossier.date, file);
    std::ifstream stream(file, std::ios::binary);
    std::ostringstream bytes;
    bytes << stream.rdbuf();
    return bytes.str();
}

}  // namespace

TEST_CASE("the same dossier gives the same bytes", "[pdf]")
{
    const auto folder = std::filesystem::path(LUXDOSSIER_BINARY_DIRECTORY) / "pdf-test";
    std::filesystem::create_directories(folder);
    const auto dossier = test::small_dossier();
    const auto first = written(dossier, folder / "first.pdf");
    CHECK(first.starts_with("%PDF-1.5"));
    CHECK(first == written(dossier, folder / "second.pdf"));
    auto later = dossier;
    later.date.seconds += 60;
    CHECK(first != written(later, folder / "later.pdf"));
}

TEST_CASE("a folder that is not there is told with its path", "[pdf]")
{
    const auto dossier = test::small_dossier();
    CHECK_THROWS_AS(written(dossier, "/nowhere/report.pdf"), std::system_error);
}

// ISO 32000-1:2008, 14.8 and 14.9.3: the structure tree, natural language and alternate descriptions.
TEST_CASE("each figure of the structure tells its finding in words, and the language is stated", "[pdf]")
{
    const auto folder = std::filesystem::path(LUXDOSSIER_BINARY_DIRECTORY) / "pdf-test";
    std::filesystem::create_directories(folder);
    const auto dossier = test::small_dossier();
    const auto pages = layout::lay_out(report::compose(dossier, test::customer_template()), dossier);
    pdf::write_pdf(pages, dossier.date, folder / "tagged.pdf");
    std::vector<std::string> expected;
    for (const auto& page : pages.pages) {
        for (const auto& figure : page.figures)
            expected.push_back(figure.alternative_text);
    }
    REQUIRE_FALSE(expected.empty());

    QPDF file;
    file.processFile((folder / "tagged.pdf").c_str());
    CHECK(file.getRoot().getKey("/Lang").getUTF8Value() == "en");
    std::vector<std::string> told;
    for (auto& object : file.getAllObjects()) {
        if (object.isDictionary() && object.getKey("/S").isNameAndEquals("/Figure"))
            told.push_back(object.getKey("/Alt").getUTF8Value());
    }
    std::ranges::sort(told);
    std::ranges::sort(expected);
    CHECK(told == expected);
}

// ISO 32000-1:2008, 12.3.3: the outline leads to every chapter and section, on its page.
TEST_CASE("the outline of the file names every chapter and section and leads to its page", "[pdf]")
{
    const auto folder = std::filesystem::path(LUXDOSSIER_BINARY_DIRECTORY) / "pdf-test";
    std::filesystem::create_directories(folder);
    const auto dossier = test::small_dossier();
    const auto pages = layout::lay_out(report::compose(dossier, test::customer_template()), dossier);
    pdf::write_pdf(pages, dossier.date, folder / "outline.pdf");
    QPDF file;
    file.processFile((folder / "outline.pdf").c_str());
    auto sheets = file.getAllPages();
    std::vector<std::tuple<std::string, int, std::size_t>> expected, found;
    for (const auto& entry : pages.outline)
        expected.emplace_back(entry.title, entry.level, entry.page);
    REQUIRE(expected.size() > 5);
    const auto collect = [&](const auto& self, std::vector<QPDFOutlineObjectHelper> entries,
                             int level) -> void {
        for (auto& entry : entries) {
            const auto page = entry.getDestPage();
            std::size_t index = 0;
            while (index < sheets.size() && sheets[index].getObjGen() != page.getObjGen())
                ++index;
            found.emplace_back(entry.getTitle(), level, index);
            self(self, entry.getKids(), level + 1);
        }
    };
    collect(collect, QPDFOutlineDocumentHelper(file).getTopLevelOutlines(), 1);
    CHECK(found == expected);
}
