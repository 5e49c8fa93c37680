#include "metrics/in_memory.hpp"
#include "metrics/metrics.hpp"

#include <algorithm>
#include <functional>
#include <optional>

#include "support/catch.hpp"

using namespace luxdossier;
using test::agree;
using test::degree;

namespace {

using Response = std::function<double(double)>;  // of the angle in degree

/// Readings of one scan in file order.
struct Scan {
    std::vector<double> angle_rad, sensor, plane_rad, screened, monitor;
    void add(double angle_degree, double reading, double plane_degree = 0, bool is_screened = false,
             double of_monitor = 1)
    {
        angle_rad.push_back(angle_degree * degree);
        sensor.push_back(reading);
        plane_rad.push_back(plane_degree * degree);
        screened.push_back(is_screened ? 1 : 0);
        monitor.push_back(of_monitor);
    }
};

/// `times` readings an angle around 1000 times the response, +-0.1 in turn, zeros first and last.
Scan scan_of(const Response& response, double end_degree = 90, double step_degree = 5, int times = 5)
{
    Scan scan;
    const auto add = [&](double angle) {
        for (int i = 0; i < times; ++i)
            scan.add(angle, 1000 * response(angle) + (i % 2 == 0 ? 0.1 : -0.1));
    };
    add(0);
    for (double angle = -end_degree; angle <= end_degree; angle += step_degree)
        add(angle);
    add(0);
    return scan;
}

double cosine(double angle)
{
    return std::abs(angle) >= 90 ? 0 : std::cos(angle * degree);
}

model::Qualification bench_of(const Scan& scan, bool several_planes = false, bool monitored = false)
{
    model::Qualification qualification;
    qualification.product.resolution = test::quantity(0.01, "lx", 0);
    model::Configuration configuration;
    configuration.id = "bare";
    configuration.target_is_cosine = true;
    qualification.configurations = {configuration};
    qualification.samples = {{"S1", "", "", "", ""}};
    qualification.sources.resize(1);
    qualification.sources.front().id = "led";
    qualification.geometry.distance = test::quantity(2, "m", 0);
    qualification.geometry.eccentricity = test::quantity(0, "m", 0.4e-3);
    qualification.geometry.stage_zero = test::quantity(0, "rad", 0.15 * degree);
    qualification.geometry.stage_scale = test::quantity(0, "1", 0.001);
    std::vector<model::NumberColumn> columns{test::column("angle", "rad", scan.angle_rad),
                                             test::column("sensor", "lx", scan.sensor),
                                             test::column("screened", "1", scan.screened)};
    if (several_planes)
        columns.push_back(test::column("plane", "rad", scan.plane_rad));
    if (monitored)
        columns.push_back(test::column("monitor", "lx", scan.monitor));
    auto run = test::run_of("scan", model::RunKind::angular, std::move(columns));
    run.sample = "S1";
    run.configuration = "bare";
    run.source = "led";
    qualification.runs = {run};
    return qualification;
}

const model::Result& result(const model::Evaluation& evaluation, const std::string& id)
{
    const auto* found = test::find(evaluation, id);
    INFO(id);
    REQUIRE(found != nullptr);
    return *found;
}

std::string id_of(const std::string& metric, const std::string& more = "/plane=0degree",
                  const std::string& side = "")
{
    // Conditions stand sorted by name: angle, configuration, crossing, plane, sample, side, source.
    return metric + "/configuration=bare" + more + "/sample=S1" + (side.empty() ? "" : "/side=" + side) +
           "/source=led";
}

const model::Result& half_angle(const model::Evaluation& evaluation, const std::string& side)
{
    return result(evaluation, id_of("half_response_angle", "/plane=0degree", side));
}

std::size_t count(const model::Evaluation& evaluation, const std::string& metric)
{
    return static_cast<std::size_t>(std::ranges::count(evaluation.results, metric, &model::Result::metric));
}

}  // namespace

TEST_CASE("half-response angles and f2 of cos^n are those of the closed forms", "[metrics][angular]")
{
    // arccos(0.5^(1/n)); n = 3 crosses at 37.47 degrees, between the readings at 35 and 40; f2 of cos^n:
    // |(1 - c^2) - 2/(n + 1) (1 - c^(n + 1))|, c = cos(80 deg). A scan in steps of 5 degrees is a curve of
    // its own: the interpolation input must cover what it misses.
    const auto evaluation =
        metrics::evaluate(bench_of(scan_of([](double a) { return std::pow(cosine(a), 3); })));
    const double expected = std::acos(std::cbrt(0.5)) / degree;
    for (const auto* side : {"negative", "positive"}) {
        const auto& found = half_angle(evaluation, side);
        CHECK(std::abs(*found.value - expected) < 0.05);
        CHECK(std::abs(*found.value - expected) < found.combined->expanded_uncertainty);
        CHECK(found.undecided.empty());
    }
    CHECK(agree(*result(evaluation, id_of("field_of_view")).value, 2 * expected, 1e-3));
    CHECK(std::abs(*result(evaluation, id_of("boresight_offset")).value) < 1e-9);
    const double c = std::cos(80 * degree);
    const double f2 = std::abs((1 - c * c) - 0.5 * (1 - std::pow(c, 4)));
    CHECK(std::abs(*result(evaluation, id_of("directional_index")).value - 100 * f2) < 0.1);
}

TEST_CASE("every sensitivity of every angular result meets central differences", "[metrics][angular]")
{
    // A lopsided response, so that nothing cancels by symmetry.
    const auto evaluation = metrics::evaluate(bench_of(scan_of([](double a) {
        return std::pow(cosine(a), 1.3) * (1 + 0.002 * a) + 0.01 * std::sin(7 * a * degree);
    })));
    std::size_t checked = 0;
    for (const auto& one : evaluation.results)
        if (one.node) {
            CAPTURE(one.id);
            CHECK(test::worst_sensitivity(evaluation, one) < 1e-5);
            ++checked;
        }
    CHECK(checked == 36 + 36 + 18 + 2 + 1 + 1 + 1);
}

TEST_CASE("the zero of the stage sits wholly in the boresight and cancels in the field of view",
          "[metrics][angular]")
{
    auto qualification = bench_of(scan_of(cosine));
    qualification.geometry.eccentricity.reset();
    qualification.geometry.stage_scale.reset();
    const auto evaluation = metrics::evaluate(qualification);
    const auto share_of_zero = [&](const std::string& id) {
        for (const auto& line : evaluation.budget(result(evaluation, id)).lines)
            if (evaluation.graph.inputs()[line.input.index].quantity == "stage zero and mounting, plane 0°")
                return line.contribution;
        return -1.0;
    };
    CHECK(agree(share_of_zero(id_of("boresight_offset")), 0.15, 1e-9));
    CHECK(std::abs(share_of_zero(id_of("field_of_view"))) < 1e-9);
    CHECK(share_of_zero(
              "angular_response/angle=30degree/configuration=bare/plane=0degree/sample=S1/source=led") == -1);
}

TEST_CASE("the scale of the stage acts in proportion to the angle", "[metrics][angular]")
{
    auto qualification = bench_of(scan_of(cosine));
    const auto evaluation = metrics::evaluate(qualification);
    const auto& found = half_angle(evaluation, "positive");
    for (const auto& line : evaluation.budget(found).lines)
        if (evaluation.graph.inputs()[line.input.index].quantity == "stage scale")
            CHECK(agree(line.contribution, 0.001 * *found.value, 0.01));
}

TEST_CASE("the drift between start and return is one factor on every angle but the reference",
          "[metrics][angular]")
{
    auto scan = scan_of(cosine);
    for (std::size_t i = scan.sensor.size() - 5; i < scan.sensor.size(); ++i)
        scan.sensor[i] *= 1.004;
    auto qualification = bench_of(scan);
    const auto evaluation = metrics::evaluate(qualification);
    const auto input = evaluation.graph.find_input("run:scan/plane=0degree/drift");
    REQUIRE(input);
    // Half of |last - first|/D(ref), D(ref) the mean of all 15 readings at 0.
    const double first = 1000.02, last = 1000.02 * 1.004, reference = (2 * first + last) / 3;
    CHECK(agree(evaluation.graph.inputs()[input->index].standard_uncertainty,
                (last - first) / (2 * reference) / std::sqrt(3.0), 1e-12));
    for (const auto& line :
         evaluation
             .budget(result(evaluation,
                            "angular_response/angle=30degree/configuration=bare/plane=0degree/sample=S1/"
                            "source=led"))
             .lines)
        if (line.input == *input)
            CHECK(agree(line.sensitivity, 1000.02 * cosine(30) / reference, 1e-4));
}

TEST_CASE("readings with the beam screened are left out", "[metrics][angular]")
{
    auto scan = scan_of(cosine);
    const auto without = metrics::evaluate(bench_of(scan));
    scan.add(0, 5, 0, true);
    scan.add(45, 5, 0, true);
    const auto with = metrics::evaluate(bench_of(scan));
    CHECK(*half_angle(with, "positive").value == *half_angle(without, "positive").value);
    CHECK(half_angle(with, "positive").combined->standard_uncertainty ==
          half_angle(without, "positive").combined->standard_uncertainty);
}

TEST_CASE("a capped dark run gives the zero of the product", "[metrics][angular]")
{
    // A response on a pedestal of 50 lx is that of the same product without it.
    const auto bare = metrics::evaluate(bench_of(scan_of(cosine)));
    auto scan = scan_of(cosine);
    for (auto& reading : scan.sensor)
        reading += 50;
    auto qualification = bench_of(scan);
    auto dark =
        test::run_of("dark", model::RunKind::dark, {test::column("sensor", "lx", {50.1, 49.9, 50.1, 49.9})});
    dark.conditions["light"] = std::string("capped");
    dark.sample = "S1";
    qualification.runs.front().dark_run = "dark";
    qualification.runs.push_back(dark);
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*half_angle(evaluation, "positive").value, *half_angle(bare, "positive").value, 1e-12));
    CHECK(half_angle(evaluation, "positive").combined->standard_uncertainty >
          half_angle(bare, "positive").combined->standard_uncertainty);
}

TEST_CASE("a scan without 0 degrees is not decided", "[metrics][angular]")
{
    Scan scan;
    for (double angle = -87.5; angle <= 90; angle += 5)
        for (int i = 0; i < 5; ++i)
            scan.add(angle, 1000 * cosine(angle) + i % 2);
    const auto evaluation = metrics::evaluate(bench_of(scan));
    CHECK(count(evaluation, "angular_response") == 0);
    for (const auto* id : {"field_of_view", "boresight_offset", "directional_index"}) {
        CHECK(result(evaluation, id_of(id)).undecided == "the scan has no reading at 0°");
        CHECK_FALSE(result(evaluation, id_of(id)).value);
    }
    CHECK(half_angle(evaluation, "negative").undecided == "the scan has no reading at 0°");
}

TEST_CASE("50 % that is not reached gives the end of the scan, not decided and without u",
          "[metrics][angular]")
{
    const auto evaluation = metrics::evaluate(bench_of(scan_of(cosine, 40)));
    const auto& found = half_angle(evaluation, "negative");
    CHECK(*found.value == 40);
    CHECK_FALSE(found.combined);
    CHECK(found.undecided == "50 % is not reached inside the scan: response 0.766 at −40°");
    CHECK_FALSE(result(evaluation, id_of("field_of_view")).value);
    CHECK_FALSE(result(evaluation, id_of("boresight_offset")).value);
    CHECK(result(evaluation, id_of("field_of_view")).undecided == found.undecided);
    CHECK(result(evaluation, id_of("directional_index")).undecided ==
          "the scan reaches from −40° to 40°, the index needs −80° to 80°");
}

TEST_CASE("a scan that ends at 80 degrees exactly has a directional response index", "[metrics][angular]")
{
    const auto evaluation = metrics::evaluate(bench_of(scan_of(cosine, 80)));
    CHECK(result(evaluation, id_of("directional_index")).combined);
}

TEST_CASE("several crossings on a side give the innermost and the outermost", "[metrics][angular]")
{
    // A lobe at +60 degrees: down through 50 %, up and down again on the positive side.
    const auto response = [](double a) {
        return std::pow(cosine(a), 4) + (a > 0 ? 0.7 * std::exp(-std::pow((a - 60) / 10, 2)) : 0.0);
    };
    const auto evaluation = metrics::evaluate(bench_of(scan_of(response)));
    const auto& inner =
        result(evaluation, id_of("half_response_angle", "/crossing=innermost/plane=0degree", "positive"));
    const auto& outer =
        result(evaluation, id_of("half_response_angle", "/crossing=outermost/plane=0degree", "positive"));
    const auto& negative = half_angle(evaluation, "negative");
    CHECK(*inner.value < 45);
    CHECK(*outer.value > 60);
    CHECK(inner.combined);
    CHECK(outer.combined);
    const auto& inner_field = result(evaluation, id_of("field_of_view", "/crossing=innermost/plane=0degree"));
    const auto& outer_field = result(evaluation, id_of("field_of_view", "/crossing=outermost/plane=0degree"));
    CHECK(agree(*inner_field.value, *inner.value + *negative.value, 1e-12));
    CHECK(agree(*outer_field.value, *outer.value + *negative.value, 1e-12));
    const auto& offset = result(evaluation, id_of("boresight_offset", "/crossing=outermost/plane=0degree"));
    CHECK(agree(*offset.value, (*outer.value - *negative.value) / 2, 1e-12));
    CHECK(count(evaluation, "half_response_angle") == 3);
}

TEST_CASE("the interpolation input is the distance between the cubic and the chord", "[metrics][angular]")
{
    const auto evaluation =
        metrics::evaluate(bench_of(scan_of([](double a) { return std::pow(cosine(a), 3); })));
    const auto input = evaluation.graph.find_input("run:scan/plane=0degree/crossing=positive/interpolation");
    REQUIRE(input);
    // Chord between the readings at 35 and 40 degrees (less 0.02 lx that the mean of +-0.1 in turn adds).
    const double at35 = std::pow(cosine(35), 3), at40 = std::pow(cosine(40), 3);
    const double chord = 35 + 5 * (at35 - 0.5) / (at35 - at40);
    const double half_width =
        evaluation.graph.inputs()[input->index].standard_uncertainty * std::sqrt(3.0) / degree;
    CHECK(std::abs(half_width - std::abs(*half_angle(evaluation, "positive").value - chord)) < 0.002);
}

TEST_CASE("single readings take the relative standard deviation of the readings at 0", "[metrics][angular]")
{
    Scan scan;
    const auto zeros = [&] {
        for (const double reading : {1000.0, 1002.0, 998.0})
            scan.add(0, reading);
    };
    zeros();
    for (double angle = -90; angle <= 90; angle += 5)
        if (angle != 0)
            scan.add(angle, 1000 * cosine(angle));
    zeros();
    const auto evaluation = metrics::evaluate(bench_of(scan));
    const auto& response = result(
        evaluation, "angular_response/angle=60degree/configuration=bare/plane=0degree/sample=S1/source=led");
    REQUIRE(response.combined);
    const double s = std::sqrt(16.0 / 5);  // of the six readings at 0
    for (const auto& line : evaluation.budget(response).lines) {
        const auto& input = evaluation.graph.inputs()[line.input.index];
        if (input.quantity == "sensor at 60°, one reading") {
            CHECK(agree(input.standard_uncertainty, s / 1000 * 500, 1e-12));
            CHECK(input.degrees_of_freedom == 5);
            CHECK(evaluation.graph.group_of(line.input));
        }
    }
    SECTION("fewer than three at 0 tell nothing")
    {
        Scan few;
        few.add(0, 1000);
        for (double angle = -90; angle <= 90; angle += 10)
            if (angle != 0)
                few.add(angle, 1000 * cosine(angle));
        few.add(0, 1001);
        const auto undecided = metrics::evaluate(bench_of(few));
        const auto& half = half_angle(undecided, "positive");
        CHECK(half.value);
        CHECK_FALSE(half.combined);
        CHECK_THAT(half.undecided,
                   Catch::Matchers::EndsWith("one reading, and fewer than three at 0° to tell its scatter"));
    }
}

TEST_CASE("a logged monitor takes the changes of the source out", "[metrics][angular]")
{
    // The source rises by 1 % during the scan; the monitor sees it.
    auto scan = scan_of(cosine);
    const auto steady = metrics::evaluate(bench_of(scan));
    for (std::size_t i = 0; i < scan.sensor.size(); ++i) {
        const double rise = 1 + 0.01 * static_cast<double>(i) / static_cast<double>(scan.sensor.size());
        scan.sensor[i] *= rise;
        scan.monitor[i] = 400 * rise;
    }
    auto qualification = bench_of(scan, false, true);
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(std::abs(*half_angle(evaluation, "positive").value - *half_angle(steady, "positive").value) <
          0.002);
    const auto input = evaluation.graph.find_input("run:scan/plane=0degree/drift");
    REQUIRE(input);
    CHECK(evaluation.graph.inputs()[input->index].standard_uncertainty < 2e-5);  // 0.3 % without it
    // The response follows the cosine here: its index has kinks everywhere and no derivative to compare with.
    for (const auto& one : evaluation.results)
        if (one.node && one.metric != "directional_index") {
            CAPTURE(one.id);
            CHECK(test::worst_sensitivity(evaluation, one) < 1e-5);
        }
}

TEST_CASE("the peak may be the reference", "[metrics][angular]")
{
    const auto response = [](double a) {
        return std::max(0.0, std::cos((a - 10) * degree)) / std::cos(10 * degree);
    };
    auto qualification = bench_of(scan_of(response));
    qualification.configurations.front().reference_is_peak = true;
    const auto evaluation = metrics::evaluate(qualification);
    // cos(theta - 10) crosses half of its peak at 70 and -50 degrees.
    CHECK(std::abs(*half_angle(evaluation, "positive").value - 70) < 0.05);
    CHECK(std::abs(*half_angle(evaluation, "negative").value - 50) < 0.05);
    CHECK(std::abs(*result(evaluation, id_of("boresight_offset")).value - 10) < 0.05);
    CHECK(
        test::find(evaluation,
                   "angular_response/angle=10degree/configuration=bare/plane=0degree/sample=S1/source=led") ==
        nullptr);
}

TEST_CASE("planes have their own results and a mean index", "[metrics][angular]")
{
    auto scan = scan_of(cosine);
    const auto other = scan_of([](double a) { return std::pow(cosine(a), 1.5); });
    for (std::size_t i = 0; i < other.sensor.size(); ++i)
        scan.add(other.angle_rad[i] / degree, other.sensor[i], 90);
    const auto check = [&](const model::Evaluation& evaluation) {
        const auto& along = result(evaluation, id_of("directional_index"));
        const auto& across = result(evaluation, id_of("directional_index", "/plane=90degree"));
        const auto& mean = result(evaluation, id_of("directional_index", "/plane=mean"));
        CHECK(agree(*mean.value, (*along.value + *across.value) / 2, 1e-12));
        REQUIRE(mean.combined);
        CHECK(mean.combined->standard_uncertainty < across.combined->standard_uncertainty);
        CHECK(count(evaluation, "directional_index") == 3);
    };
    SECTION("in one run with a column")
    {
        check(metrics::evaluate(bench_of(scan, true)));
    }
    SECTION("in two runs with a condition")
    {
        auto qualification = bench_of(scan_of(cosine));
        auto second = bench_of(other).runs.front();
        second.id = "scan-90";
        qualification.runs.front().conditions["plane"] = model::ConditionQuantity{0, "degree"};
        second.conditions["plane"] = model::ConditionQuantity{90, "degree"};
        qualification.runs.push_back(second);
        check(metrics::evaluate(qualification));
    }
    SECTION("a plane without an index leaves no mean")
    {
        auto qualification = bench_of(scan_of(cosine));
        auto second = bench_of(scan_of(cosine, 60)).runs.front();
        second.id = "scan-90";
        second.conditions["plane"] = model::ConditionQuantity{90, "degree"};
        qualification.runs.push_back(second);
        const auto evaluation = metrics::evaluate(qualification);
        CHECK(result(evaluation, id_of("directional_index", "/plane=mean")).undecided ==
              "plane 90° has no directional response index");
    }
}

TEST_CASE("asymmetry compares a positive angle with its negative", "[metrics][angular]")
{
    const auto evaluation =
        metrics::evaluate(bench_of(scan_of([](double a) { return cosine(a) * (1 + 0.001 * a); })));
    const auto& found = result(
        evaluation, "angular_asymmetry/angle=30degree/configuration=bare/plane=0degree/sample=S1/source=led");
    CHECK(std::abs(*found.value - 100 * (1.03 / 0.97 - 1)) < 0.01);
    CHECK(count(evaluation, "angular_asymmetry") == 18);
}

TEST_CASE("a target of a file stands for both sides and only as far as it reaches", "[metrics][angular]")
{
    auto qualification = bench_of(scan_of(cosine));
    auto& configuration = qualification.configurations.front();
    configuration.target_is_cosine = false;
    configuration.target = model::CurveFile{"target.csv", {}, {}};
    for (int angle = 0; angle <= 60; angle += 10) {
        configuration.target->x.push_back(angle * degree);
        configuration.target->y.push_back(cosine(angle) - 0.02);
    }
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(count(evaluation, "directional_index") == 0);
    CHECK(count(evaluation, "angular_deviation") == 24);
    for (const auto* angle : {"-40", "40", "-60", "60"}) {
        const auto& found =
            result(evaluation, std::string("angular_deviation/angle=") + angle +
                                   "degree/configuration=bare/plane=0degree/sample=S1/source=led");
        CHECK(std::abs(*found.value - 2) < 0.02);
        // The angle is uncertain here: 0.15 degree of zero at the slope of the target.
        CHECK(found.combined->standard_uncertainty > 100 * 0.15 * degree * std::sin(35 * degree));
    }
}

TEST_CASE("an eccentricity without a distance leaves u unknown", "[metrics][angular]")
{
    auto qualification = bench_of(scan_of(cosine));
    qualification.geometry.distance.reset();
    const auto evaluation = metrics::evaluate(qualification);
    const auto& half = half_angle(evaluation, "positive");
    CHECK(half.value);
    CHECK_FALSE(half.combined);
    CHECK(half.undecided == "run scan: an eccentricity is stated, but no distance that tells what it does");
    qualification.runs.front().conditions["distance"] = model::ConditionQuantity{1.5, "m"};
    CHECK(half_angle(metrics::evaluate(bench_of(scan_of(cosine))), "positive").combined);
}

TEST_CASE("missing readings are skipped, and a dark product has no response", "[metrics][angular]")
{
    auto scan = scan_of(cosine);
    scan.add(20, std::nan(""));
    scan.add(std::nan(""), 900);
    const auto gappy = metrics::evaluate(bench_of(scan));
    const auto whole = metrics::evaluate(bench_of(scan_of(cosine)));
    CHECK(gappy.results.size() == whole.results.size());
    CHECK(*half_angle(gappy, "positive").value == *half_angle(whole, "positive").value);

    const auto dark = metrics::evaluate(bench_of(scan_of([](double) { return 0.0; }, 90, 5, 4)));
    CHECK(half_angle(dark, "positive").undecided ==
          "the reading at the reference angle of 0° is not above its zero");
}

TEST_CASE("a monitor that reads zero makes no response", "[metrics][angular]")
{
    auto scan = scan_of(cosine);
    for (auto& monitor : scan.monitor)
        monitor = 400;
    auto at_reference = scan, beside = scan;
    for (std::size_t i = 0; i < scan.angle_rad.size(); ++i) {
        if (scan.angle_rad[i] == 0)
            at_reference.monitor[i] = 0;
        if (std::abs(scan.angle_rad[i] - 30 * degree) < 1e-9)
            beside.monitor[i] = 0;
    }
    CHECK(half_angle(metrics::evaluate(bench_of(at_reference, false, true)), "positive").undecided ==
          "the monitor reads zero at the reference angle of 0°");
    CHECK(half_angle(metrics::evaluate(bench_of(beside, false, true)), "positive").undecided ==
          "the response at 30° is no finite number (its monitor reads zero)");
}

TEST_CASE("what the window changes in the field of view is the difference of the two", "[window]")
{
    // cos: 2 x 60 degrees; cos^2: 2 x 45 degrees.
    auto qualification = bench_of(scan_of(cosine));
    auto windowed =
        bench_of(scan_of([](double angle) { return cosine(angle) * cosine(angle); })).runs.front();
    windowed.id = "windowed";
    windowed.configuration = "windowed";
    qualification.runs.push_back(windowed);
    model::Configuration configuration;
    configuration.id = "windowed";
    qualification.configurations.push_back(configuration);
    qualification.reference_configuration = "bare";
    const auto evaluation = metrics::evaluate(qualification);
    const auto found = std::ranges::find(evaluation.results, "field_of_view_change", &model::Result::metric);
    REQUIRE(found != evaluation.results.end());
    CHECK(std::abs(*found->value + 30) < 0.01);
    CHECK(test::worst_sensitivity(evaluation, *found) < 1e-4);
    // The zero of the stage moves both sides of both scans alike.
    for (const auto& line : evaluation.budget(*found).lines)
        if (evaluation.graph.inputs()[line.input.index].identity.find("zero") != std::string::npos)
            CHECK(line.contribution < 1e-9);
}
