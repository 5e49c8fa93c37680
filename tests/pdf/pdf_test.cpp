#include "pdf/pdf.hpp"

#include "report/small_dossier.hpp"

#include <filesystem>
#include <fstream>
#include <sstream>

#include "report/document.hpp"

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
