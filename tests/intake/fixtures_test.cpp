#include "intake/intake.hpp"

#include "support/catch.hpp"

using namespace luxdossier;

namespace {

std::string all_faults(const diagnostics::Diagnostics& found)
{
    std::string text;
    for (const auto& one : found.all())
        text += diagnostics::render(one);
    return text;
}

}  // namespace

TEST_CASE("the folders under fixtures are read without a fault", "[intake]")
{
    const std::string folder = GENERATE("fixtures/bridge-dimmer", "fixtures/tiny");
    CAPTURE(folder);
    diagnostics::Diagnostics found;
    const auto files = intake::folder_on_disk(std::string(LUXDOSSIER_SOURCE_DIRECTORY) + "/" + folder);
    const auto qualification = intake::read_qualification(*files, found);
    CHECK(all_faults(found).empty());
    REQUIRE(qualification);
    CHECK_FALSE(qualification->runs.empty());
    for (const auto& run : qualification->runs) {
        CAPTURE(run.id);
        CHECK_FALSE(run.rows.empty());
        CHECK(run.table->rows >= run.rows.size());
    }
}
