#include "metrics/laboratory.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

/// A flat responsivity from 380 nm to 780 nm.
model::CurveFile flat()
{
    model::CurveFile curve;
    for (int nm = 380; nm <= 780; nm += 5) {
        curve.x.push_back(nm * 1e-9);
        curve.y.push_back(1);
    }
    return curve;
}

/// 09: white light of two Gaussian bands.
model::CurveFile white()
{
    model::CurveFile curve;
    for (int nm = 380; nm <= 780; nm += 1) {
        curve.x.push_back(nm * 1e-9);
        curve.y.push_back(std::exp(-std::pow((nm - 450) / 9.0, 2) / 2) +
                          0.55 * std::exp(-std::pow((nm - 560) / 48.0, 2) / 2));
    }
    return curve;
}

const model::Result& named(const model::Evaluation& evaluation, const std::string& id)
{
    const auto found = std::ranges::find(evaluation.results, id, &model::Result::id);
    if (found == evaluation.results.end())
        throw std::logic_error("no result " + id);
    return *found;
}

}  // namespace

TEST_CASE("meter and configurations have a mismatch index and a factor for every visible source", "[spectra]")
{
    auto qualification = laboratory();
    qualification.meters[0].relative_responsivity = flat();
    qualification.configurations[1].relative_responsivity = flat();
    qualification.sources[0].spectrum = white();
    model::Source emitter;
    emitter.id = "emitter";
    emitter.kind = model::SourceKind::near_infrared;
    emitter.spectrum = white();
    qualification.sources.push_back(emitter);
    qualification.runs = {comparison("r", {100, 100, 100}, {100, 101, 99}, {100, 100.1, 99.9})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(*named(evaluation, "mismatch_index/meter=M1").value ==
          *named(evaluation, "mismatch_index/configuration=windowed").value);
    const auto& used = named(evaluation, "mismatch_factor/meter=M1/source=led");
    REQUIRE(used.combined);  // the very input of the meter's illuminances
    CHECK(agree(*used.value, *named(evaluation, "mismatch_factor/configuration=windowed/source=led").value,
                1e-12));
    CHECK(find(evaluation, "mismatch_factor/meter=M1/source=emitter") == nullptr);
    CHECK(all_finite(evaluation));
}

TEST_CASE("the source variation that the spectra predict stands beside the measured one", "[spectra]")
{
    auto qualification = laboratory();
    qualification.reference_source = "led";
    qualification.sources[0].spectrum = white();
    model::Source lamp;
    lamp.id = "lamp";
    lamp.kind = model::SourceKind::incandescent;
    lamp.spectrum = flat();
    qualification.sources.push_back(lamp);
    qualification.configurations[0].relative_responsivity = flat();
    qualification.runs = {comparison("r", {100, 100, 100}, {100, 101, 99}, {100, 100.1, 99.9}),
                          comparison("s", {100, 100, 100}, {110, 111, 109}, {100, 100.1, 99.9})};
    qualification.runs[1].source = "lamp";
    const auto evaluation = metrics::evaluate(qualification);
    const double predicted =
        100 * (*named(evaluation, "mismatch_factor/configuration=bare/source=led").value /
                   *named(evaluation, "mismatch_factor/configuration=bare/source=lamp").value -
               1);
    const auto found = std::ranges::find(evaluation.statements, "spectra", &model::Statement::family);
    REQUIRE(found != evaluation.statements.end());
    CHECK(found->text.starts_with("Source variation of bare under lamp: predicted "));
    CHECK(found->text.ends_with("measured 10 % to 10 %."));
    CHECK(std::abs(std::stod(found->text.substr(found->text.find_first_of("0123456789"))) -
                   std::abs(predicted)) < 0.005 * std::abs(predicted));
}

TEST_CASE("a responsivity beyond the eye has no index, and says so", "[spectra]")
{
    auto qualification = laboratory();
    model::CurveFile beyond{"", {900e-9, 1000e-9}, {1, 1}};
    qualification.configurations[0].relative_responsivity = beyond;
    qualification.sources[0].spectrum = white();
    qualification.runs = {comparison("r", {100, 100, 100}, {100, 101, 99}, {100, 100.1, 99.9})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "mismatch_index").undecided == "the responsivity does not overlap V(λ)");
    CHECK(only(evaluation, "mismatch_factor").undecided == "the spectra do not overlap");
}
