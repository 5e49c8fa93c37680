#include "small_bench.hpp"

#include <numbers>

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;
using test::stated;

namespace {

constexpr double rad = std::numbers::pi / 180.0;

bool told(const SmallBench::Result& found, const std::string& id, const std::string& part)
{
    for (const auto& remark : found.of(id))
        if (remark.seen.find(part) != std::string::npos)
            return true;
    return false;
}

}  // namespace

TEST_CASE("a scan in steps of 5 degree over 90 degree raises nothing", "[practice]")
{
    SmallBench bench;
    bench.add_scan("scan", 90, 5);
    const auto found = bench.examine();
    for (const auto* id : {"coarse-scan", "zero-angle", "stray-light", "wide-source"}) {
        CAPTURE(id);
        CHECK_FALSE(found.raised(id));
    }
}

TEST_CASE("steps above 5 degree are told", "[practice]")
{
    SmallBench bench;
    bench.add_scan("scan", 90, 6);
    CHECK(told(bench.examine(), "coarse-scan", "steps of up to 6°"));
}

TEST_CASE("a half-response angle that rests on the interpolation is told", "[practice]")
{
    SmallBench bench;
    bench.qualification.geometry.stage_zero = stated(0.0, "rad", 1e-7);
    bench.qualification.geometry.stage_scale = stated(0.0, "1", 1e-7);
    bench.qualification.geometry.eccentricity = stated(0.0, "m", 1e-7);
    // Nodes at -62 and -58 degree, and at 60 degree itself on the other side; next to nothing else is
    // uncertain.
    bench.add_scan("scan", 86, 4);
    const auto found = bench.examine();
    CHECK(told(found, "coarse-scan", "on the negative side the interpolation contributes"));
    CHECK_FALSE(told(found, "coarse-scan", "on the positive side the interpolation contributes"));
}

TEST_CASE("a scan that ends before half the response, or before 80 degree, leaves those results open",
          "[practice]")
{
    SmallBench bench;
    bench.add_scan("scan", 55, 5);
    const auto found = bench.examine();
    std::size_t blocking = 0;
    for (const auto& remark : found.of("coarse-scan"))
        blocking += remark.severity == RemarkSeverity::blocks ? 1 : 0;
    CHECK(blocking >= 2);
    CHECK(told(found, "coarse-scan", "scanned from −55° to 55°"));
    for (const auto& reason : found.reasons("directional_index"))
        CHECK_FALSE(reason.empty());
    SmallBench to_80;
    to_80.add_scan("scan", 80, 5);
    CHECK_FALSE(told(to_80.examine(), "coarse-scan", "scanned from"));
}

TEST_CASE("a scan without a reading at 0 blocks", "[practice]")
{
    SmallBench bench;
    bench.add_scan("scan", 90, 5);
    for (double& angle : bench.column("scan", "angle"))
        if (angle == 0.0)
            angle = 0.5 * rad;
    const auto found = bench.examine();
    REQUIRE(found.raised("zero-angle"));
    CHECK(found.of("zero-angle")[0].severity == RemarkSeverity::blocks);
}

TEST_CASE("returns to 0 that differ by more than 0.5 % are told", "[practice]")
{
    const auto drifting = [](double percent) {
        SmallBench bench;
        bench.add_scan("scan", 90, 5);
        auto& sensor = bench.column("scan", "sensor");
        for (std::size_t index = sensor.size() - 3; index < sensor.size(); ++index)
            sensor[index] *= 1.0 + percent / 100.0;
        return bench.examine().of("zero-angle");
    };
    CHECK(drifting(0.40).empty());
    REQUIRE(drifting(0.60).size() == 1);
    CHECK(drifting(0.60)[0].severity == RemarkSeverity::concern);
}

TEST_CASE("stray light above 0.2 % is told, screened or from behind", "[practice]")
{
    const auto screened = [](double lx) {
        SmallBench bench;
        bench.add_scan("scan", 90, 5);
        bench.column("scan", "screened").back() = 1;
        bench.column("scan", "sensor").back() = lx;
        return bench.examine().raised("stray-light");
    };
    CHECK_FALSE(screened(0.19));
    CHECK(screened(0.21));
    SmallBench behind;
    behind.add_scan("scan", 100, 5);
    for (auto id : {"scan"}) {
        const auto angles = behind.run(id).table->number("angle")->values;
        auto& sensor = behind.column(id, "sensor");
        for (std::size_t index = 0; index < angles.size(); ++index)
            if (std::abs(angles[index]) > 95.1 * rad)
                sensor[index] = 0.3;
    }
    CHECK(told(behind.examine(), "stray-light", "at −100°"));
}

TEST_CASE("a source that subtends more than 3 degree or one step is told", "[practice]")
{
    SmallBench bench;
    bench.add_scan("scan", 90, 5);
    bench.qualification.geometry.source_diameter = stated(2.0 * std::tan(1.49 * rad), "m");
    CHECK_FALSE(bench.examine().raised("wide-source"));
    bench.qualification.geometry.source_diameter = stated(2.0 * std::tan(1.51 * rad), "m");
    CHECK(bench.examine().raised("wide-source"));
    SmallBench fine;
    fine.add_scan("scan", 90, 2.5);  // 0.05 m at 1 m subtend 2.86 degree
    CHECK(fine.examine().raised("wide-source"));
}
