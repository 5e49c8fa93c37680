#include "metrics/metrics.hpp"

#include <filesystem>
#include <fstream>
#include <sstream>

#include "support/catch.hpp"

using namespace luxdossier;

TEST_CASE("every metric is described below docs/metrics", "[documentation]")
{
    std::stringstream pages;
    for (const auto& page : std::filesystem::directory_iterator("docs/metrics")) {
        std::ifstream file(page.path());
        pages << file.rdbuf();
    }
    const auto text = pages.str();
    for (const auto& entry : metrics::catalogue()) {
        CAPTURE(entry.id);
        CHECK(text.find("`" + entry.id + "`") != std::string::npos);
    }
}
