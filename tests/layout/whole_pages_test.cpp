#include "layout/whole_dossier.hpp"

#include "layout/page.hpp"
#include "layout/page_checks.hpp"
#include "report/document.hpp"
#include "report/small_dossier.hpp"

#include "support/catch.hpp"

using namespace luxdossier;

namespace {

layout::Pages pages_of(const std::string& folder, layout::Paper paper)
{
    const auto dossier = test::whole_dossier(folder);
    return layout::lay_out(report::compose(dossier, test::customer_template()), dossier, paper);
}

}  // namespace

TEST_CASE("40 samples, 60 levels, 200 limits and ids of 60 characters crowd no page", "[layout]")
{
    const auto paper = GENERATE(layout::Paper::a4, layout::Paper::letter);
    const auto pages = pages_of(test::write_crowded_folder(), paper);
    REQUIRE(pages.pages.size() > 50);
    CHECK(test::faults_of(pages) == std::vector<std::string>{});
}

TEST_CASE("on no page of the fixtures, A4 or Letter, do two texts meet or leave the text area", "[layout]")
{
    const auto name = GENERATE(as<std::string>{}, "bridge-dimmer", "tiny");
    const auto paper = GENERATE(layout::Paper::a4, layout::Paper::letter);
    CAPTURE(name, paper == layout::Paper::letter);
    const auto pages = pages_of(test::fixture(name), paper);
    REQUIRE_FALSE(pages.pages.empty());
    CHECK(test::faults_of(pages) == std::vector<std::string>{});
    // ISO 216: 210 mm by 297 mm; ANSI/ASME Y14.1, A: 8.5 in by 11 in.
    for (const auto& page : pages.pages) {
        CHECK(test::agree(page.width, paper == layout::Paper::a4 ? 210 : 8.5 * 25.4, 1e-12));
        CHECK(test::agree(page.height, paper == layout::Paper::a4 ? 297 : 11 * 25.4, 1e-12));
    }
}
