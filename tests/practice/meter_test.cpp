#include "small_bench.hpp"

#include <chrono>

#include "support/catch.hpp"

using namespace luxdossier;
using model::RemarkSeverity;
using test::SmallBench;

TEST_CASE("a certificate past its recall date blocks, on the day itself it serves", "[practice]")
{
    SmallBench bench;
    bench.qualification.meters[0].certificate->recall =
        std::chrono::sys_days{std::chrono::year{2025} / 3 / 11};
    CHECK_FALSE(bench.examine().raised("certificate-recall-passed"));
    bench.qualification.meters[0].certificate->recall =
        std::chrono::sys_days{std::chrono::year{2025} / 3 / 10};
    const auto found = bench.examine();
    REQUIRE(found.raised("certificate-recall-passed"));
    CHECK(found.of("certificate-recall-passed")[0].severity == RemarkSeverity::blocks);
    CHECK(found.reasons("reading_error")[0].starts_with("certificate-recall-passed: "));
    bench.qualification.accepted_remarks.push_back(
        {"certificate-recall-passed", "recalibrated since, no change", ""});
    CHECK(bench.examine().reasons("reading_error")[0].empty());
}

TEST_CASE("a chain with a missing link cannot be claimed", "[practice]")
{
    SmallBench bench;
    bench.qualification.meters[0].certificate->accreditation.clear();
    bench.qualification.meters[0].certificate->traceable_to.clear();
    const auto found = bench.examine();
    REQUIRE(found.of("chain-incomplete").size() == 1);
    CHECK(found.of("chain-incomplete")[0].seen ==
          "M1: its accreditation, chain to a national standard not stated");
    CHECK(found.reasons("reading_error")[0].empty());
}

TEST_CASE("an uncorrected spectral mismatch above 2 % is told", "[practice]")
{
    SmallBench bench;
    bench.qualification.meters[0].mismatch_index = 0.020;
    CHECK_FALSE(bench.examine().raised("spectral-mismatch"));
    bench.qualification.meters[0].mismatch_index = 0.021;
    CHECK(bench.examine().of("spectral-mismatch").at(0).severity == RemarkSeverity::concern);
    // Like the calibration source a tenth of the index counts.
    bench.qualification.sources[0].kind = model::SourceKind::incandescent;
    CHECK_FALSE(bench.examine().raised("spectral-mismatch"));
    bench.qualification.sources[0].kind = model::SourceKind::led;
    bench.qualification.sources[0].spectral_correction = test::stated(1.01, "1", 0.003);
    CHECK_FALSE(bench.examine().raised("spectral-mismatch"));
}

TEST_CASE("a narrow band without spectrum blocks", "[practice]")
{
    SmallBench bench;
    bench.qualification.sources[0].kind = model::SourceKind::other;
    CHECK(bench.examine().of("spectral-mismatch").at(0).severity == RemarkSeverity::blocks);
}

TEST_CASE("a meter more than 5 K from its calibration temperature is told where no coefficient is stated",
          "[practice]")
{
    SmallBench bench;
    const auto at_kelvin = [&](double kelvin) {
        bench.run("levels").conditions["meter_temperature"] = model::ConditionQuantity{kelvin, "K"};
        return bench.examine().of("meter-temperature");
    };
    CHECK(at_kelvin(296.15 + 4.9).empty());
    REQUIRE(at_kelvin(296.15 - 5.1).size() == 1);
    CHECK(at_kelvin(296.15 - 5.1)[0].seen == "M1 stood at 17.9 degrees Celsius and was calibrated at 23.0");
    bench.qualification.meters[0].temperature_coefficient = test::stated(0.0, "1/K", 0.0001);
    CHECK(at_kelvin(296.15 - 5.1).empty());
}

TEST_CASE("remarks of the evaluation itself are told once", "[practice]")
{
    SmallBench bench;
    bench.qualification.meters[0].certificate->common_relative_expanded_uncertainty.reset();
    bench.add_levels("high", {100, 1000, 20000}, 1.0);
    const auto found = bench.examine();
    CHECK(found.of("all-common").size() == 1);
    REQUIRE(found.of("outside-span").size() == 1);
    CHECK(found.of("outside-span")[0].severity == RemarkSeverity::blocks);
}
