#include "metrics/in_memory.hpp"
#include "metrics/metrics.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using test::agree;

namespace {

struct Place {
    double x_mm, y_mm, illuminance_lx;
};

model::Qualification bench_of(const std::vector<Place>& places, std::optional<double> aperture_mm = 4)
{
    model::Qualification qualification;
    if (aperture_mm)
        qualification.geometry.sensor_diameter = test::quantity(*aperture_mm * 1e-3, "m", 0);
    model::Meter meter;
    meter.id = "M1";
    meter.resolution_lx = 0.01;
    meter.annual_drift_per_year = 0.004;
    meter.linearity = 0.002;
    meter.mismatch_index = 0.03;
    model::Certificate certificate;
    certificate.number = "C-1";
    certificate.calibration_source_kind = "incandescent";
    certificate.coverage_probability = 0.9545;
    certificate.points = {{100, 1.01, 0.01, ""}, {10000, 1.0, 0.01, ""}};
    certificate.common_relative_expanded_uncertainty = 0.01;
    meter.certificate = certificate;
    qualification.meters = {meter};
    model::Source source;
    source.id = "led";
    qualification.sources = {source};
    std::vector<double> x, y, e;
    for (const auto& place : places)
        for (int i = 0; i < 5; ++i) {
            x.push_back(place.x_mm * 1e-3);
            y.push_back(place.y_mm * 1e-3);
            e.push_back(place.illuminance_lx + 0.1 * (i % 3));
        }
    auto run =
        test::run_of("map", model::RunKind::field_map,
                     {test::column("x", "m", x), test::column("y", "m", y), test::column("meter", "lx", e)});
    run.configuration = "bare";
    run.source = "led";
    run.meter = "M1";
    run.started = model::TimePoint{0};
    qualification.runs = {run};
    return qualification;
}

const model::Result& result(const model::Evaluation& evaluation, const std::string& metric)
{
    const auto* found = test::find(evaluation, metric + "/configuration=bare/source=led");
    REQUIRE(found != nullptr);
    return *found;
}

const std::vector<Place> five{{0, 0, 1000}, {2, 0, 990}, {-2, 0, 1005}, {0, 2, 1000}, {0, -2, 1000}};

}  // namespace

TEST_CASE("uniformity is least over mean and range is greatest less least over mean", "[metrics][field]")
{
    const auto evaluation = metrics::evaluate(bench_of(five));
    // Common factors cancel to what the certificate's slope leaves: 0.2 % per decade of 0.7 % is below 1e-5.
    const double mean = (1000 + 990 + 1005 + 1000 + 1000) / 5.0 + 0.08;
    CHECK(std::abs(*result(evaluation, "field_uniformity").value - 990.08 / mean) < 2e-4);
    CHECK(std::abs(*result(evaluation, "field_range").value - 100 * 15 / mean) < 2e-2);
    CHECK(result(evaluation, "field_range").undecided.empty());
}

TEST_CASE("what is common to all places cancels in the budget", "[metrics][field]")
{
    const auto evaluation = metrics::evaluate(bench_of(five));
    for (const auto* metric : {"field_uniformity", "field_range"}) {
        const auto& found = result(evaluation, metric);
        REQUIRE(found.combined);
        CHECK(test::worst_sensitivity(evaluation, found) < 1e-5);
        std::size_t common = 0;
        for (const auto& line : evaluation.budget(found).lines) {
            const auto& input = evaluation.graph.inputs()[line.input.index];
            if (input.evaluation == uncertainty::Evaluation::type_a ||
                input.quantity.find("resolution") != std::string::npos)
                continue;
            if (input.quantity.find("point") == std::string::npos &&
                input.quantity.find("interpolation") == std::string::npos) {
                CHECK(line.contribution < 1e-9 * found.combined->standard_uncertainty);
                ++common;
            }
        }
        CHECK(common >= 3);  // certificate, linearity, spectral mismatch
    }
}

TEST_CASE("only places inside the aperture count, its edge included", "[metrics][field]")
{
    auto places = five;
    places.push_back({1.5, 1.5, 500});  // 2.12 mm from the centre
    const auto with = metrics::evaluate(bench_of(places));
    const auto without = metrics::evaluate(bench_of(five));
    CHECK(*result(with, "field_range").value == *result(without, "field_range").value);
}

TEST_CASE("a map that cannot tell uniformity is not decided", "[metrics][field]")
{
    const auto reason = [](const model::Qualification& qualification) {
        return result(metrics::evaluate(qualification), "field_range").undecided;
    };
    CHECK(reason(bench_of(five, std::nullopt)) == "geometry.sensor_diameter is not stated");
    CHECK(reason(bench_of({{0, 0, 1000}, {5, 0, 1000}})) ==
          "the map has one place only inside the aperture of 4 mm");
    CHECK(reason(bench_of({{5, 0, 1000}, {6, 0, 1000}})) ==
          "the map has no place inside the aperture of 4 mm");
}
