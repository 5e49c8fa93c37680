#include "layout/plots/direct_labels.hpp"
#include "layout/plots/ticks.hpp"

#include "support/catch.hpp"

using namespace luxdossier::layout;

TEST_CASE("ticks fall where the extended Wilkinson search puts them", "[layout]")
{
    // Talbot, Lin, Hanrahan 2010: extended(8.1, 14.1, 4) gives 8 10 12 14.
    CHECK(ticks(8.1, 14.1, 4).values == std::vector<double>{8, 10, 12, 14});
    const auto fine = ticks(0.0, 0.3, 4);
    CHECK(fine.values == std::vector<double>{0, 0.1, 0.2, 0.3});
    CHECK(fine.decimals == 1);
}

TEST_CASE("ticks of narrow and far ranges are found and lie near the data", "[layout]")
{
    struct Range {
        double from, to;
    };
    const auto range = GENERATE(values<Range>({{1e5, 1.00001e5}, {-3e-7, 2e-7}, {0, 1e12}, {99.99, 100.01}}));
    const auto found = ticks(range.from, range.to, 5).values;
    REQUIRE(found.size() >= 2);
    const double width = range.to - range.from;
    for (std::size_t i = 1; i < found.size(); ++i)
        CHECK(found[i] > found[i - 1]);
    CHECK(found.front() > range.from - width);
    CHECK(found.back() < range.to + width);
}

TEST_CASE("powers of ten are the major ticks of a logarithmic axis", "[layout]")
{
    const auto found = log_ticks(0.1, 1000);
    CHECK(found.major == std::vector<double>{0.1, 1, 10, 100, 1000});
    CHECK(found.minor.size() == 32);
}

TEST_CASE("labels that meet are moved apart and stay inside", "[layout]")
{
    std::vector<DirectLabel> labels;
    for (const double y : {10.0, 10.5, 10.2, 30.0})
        labels.push_back({"", y, ink, 0, 0});
    move_apart(labels, 3.5, 0, 32);
    for (std::size_t i = 1; i < labels.size(); ++i)
        CHECK(labels[i].y - labels[i - 1].y >= 3.5 - 1e-9);
    CHECK(labels.back().y == 30.0);
    CHECK(labels.front().y >= 0);
}
