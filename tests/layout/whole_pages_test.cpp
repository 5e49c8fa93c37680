#include "cli/stages.hpp"
#include "layout/page.hpp"
#include "layout/page_checks.hpp"
#include "report/document.hpp"
#include "report/small_dossier.hpp"

#include "support/catch.hpp"

using namespace luxdossier;

namespace {

/// Everything that the report command does before it writes.
layout::Pages pages_of(const std::string& folder)
{
    const auto dossier = cli::evaluate_inputs(cli::read_or_fail(folder, ""));
    return layout::lay_out(report::compose(dossier, test::customer_template()), dossier);
}

std::string fixture(const std::string& name)
{
    return std::string(LUXDOSSIER_SOURCE_DIRECTORY) + "/fixtures/" + name;
}

}  // namespace

TEST_CASE("on no page of the fixtures do two texts meet or leave the text area", "[layout]")
{
    const auto name = GENERATE(as<std::string>{}, "bridge-dimmer", "tiny");
    CAPTURE(name);
    const auto pages = pages_of(fixture(name));
    REQUIRE_FALSE(pages.pages.empty());
    CHECK(test::faults_of(pages) == std::vector<std::string>{});
}
