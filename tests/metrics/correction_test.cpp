#include "metrics/laboratory.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

/// Four rows a level: the product's reading of the earlier two and of the later two, +-0.05 lx.
struct Level {
    double illuminance_lx, earlier_lx, later_lx;
};

model::Run read_levels(const std::vector<Level>& levels, const std::string& sample = "S1")
{
    std::vector<double> level, sensor, meter;
    for (const auto& at : levels)
        for (const double reading :
             {at.earlier_lx - 0.05, at.earlier_lx + 0.05, at.later_lx - 0.05, at.later_lx + 0.05}) {
            level.push_back(at.illuminance_lx);
            sensor.push_back(reading);
            meter.push_back(at.illuminance_lx + (level.size() % 2 == 0 ? 0.02 : -0.02));
        }
    auto run = comparison("bare-" + sample, level, sensor, meter);
    run.sample = sample;
    return run;
}

model::Qualification with_correction(model::CorrectionRequest request, std::vector<model::Run> runs)
{
    auto qualification = laboratory();
    qualification.product.resolution = quantity(0.01, "lx", 0);
    request.id = "window";
    request.configuration = "bare";
    qualification.corrections = {request};
    qualification.runs = std::move(runs);
    return qualification;
}

}  // namespace

TEST_CASE("a product that reads four fifths is corrected by 1.25, and no error remains", "[correction]")
{
    // Common practice, no source: 400 lx of 500 lx is a factor of 1.25.
    const auto evaluation = metrics::evaluate(
        with_correction({}, {read_levels({{50, 40, 40}, {500, 400, 400}, {5000, 4000, 4000}})}));
    const auto& gain = only(evaluation, "correction_gain");
    CHECK(gain.id == "correction_gain/configuration=bare/correction=window");
    CHECK(agree(*gain.value, 1.25, 1e-12));
    CHECK(worst_sensitivity(evaluation, gain) < 1e-5);
    const auto remaining = all_of(evaluation, "remaining_error");
    REQUIRE(remaining.size() == 3);
    for (const auto* result : remaining) {
        CHECK(std::abs(*result->value) < 1e-9);
        CHECK(worst_sensitivity(evaluation, *result) < 1e-4);
    }
    CHECK(all_of(evaluation, "correction_offset").empty());
}

TEST_CASE("what the certificate says of all levels cancels in the error that remains, not in the gain",
          "[correction]")
{
    const auto evaluation = metrics::evaluate(
        with_correction({}, {read_levels({{50, 40, 40}, {500, 400, 400}, {5000, 4000, 4000}})}));
    const auto& gain = only(evaluation, "correction_gain");
    CHECK(agree(line_of(evaluation, gain, "/common").contribution, 1.25 * 0.004, 1e-6));
    for (const auto* result : all_of(evaluation, "remaining_error"))
        CHECK(line_of(evaluation, *result, "/common").contribution < 1e-9);
}

TEST_CASE("the gain is the least-squares one of the relative error", "[correction]")
{
    // By hand: r = 0.8 and 0.9, b = (0.8 + 0.9)/(0.64 + 0.81).
    const auto evaluation =
        metrics::evaluate(with_correction({}, {read_levels({{100, 80, 80}, {1000, 900, 900}})}));
    const double b = 1.7 / 1.45;
    CHECK(agree(*only(evaluation, "correction_gain").value, b, 1e-12));
    CHECK(agree(*all_of(evaluation, "remaining_error")[0]->value, (0.8 * b - 1) * 100, 1e-9));
}

TEST_CASE("a straight product is corrected by gain and offset to no error", "[correction]")
{
    model::CorrectionRequest request;
    request.with_offset = true;
    std::vector<Level> levels;
    for (const double e : {20.0, 200.0, 2000.0})
        levels.push_back({e, (e - 2) / 1.1, (e - 2) / 1.1});
    const auto evaluation = metrics::evaluate(with_correction(request, {read_levels(levels)}));
    const auto& gain = only(evaluation, "correction_gain");
    const auto& offset = only(evaluation, "correction_offset");
    CHECK(agree(*gain.value, 1.1, 1e-9));
    CHECK(agree(*offset.value, 2.0, 1e-9));
    CHECK(worst_sensitivity(evaluation, gain) < 1e-5);
    CHECK(worst_sensitivity(evaluation, offset) < 1e-4);
    for (const auto* result : all_of(evaluation, "remaining_error"))
        CHECK(std::abs(*result->value) < 1e-8);
}

TEST_CASE("the error that remains is that of readings the fit has not seen", "[correction]")
{
    // By hand: fitted to 80 of 100, met with 81: 81/80 - 1 = 1.25 %.
    const auto evaluation = metrics::evaluate(with_correction({}, {read_levels({{100, 80, 81}})}));
    CHECK(agree(*only(evaluation, "correction_gain").value, 1.25, 1e-12));
    CHECK(agree(*only(evaluation, "remaining_error").value, 1.25, 1e-9));
}

TEST_CASE("every unit has a correction of its own where that is asked for, else the fleet has one",
          "[correction]")
{
    const std::vector<model::Run> runs{read_levels({{100, 80, 80}}, "S1"),
                                       read_levels({{100, 90, 90}}, "S2")};
    model::CorrectionRequest own;
    own.per_sample = true;
    const auto apart = metrics::evaluate(with_correction(own, runs));
    const auto gains = all_of(apart, "correction_gain");
    REQUIRE(gains.size() == 2);
    CHECK(gains[0]->sample == "S1");
    CHECK(agree(*gains[0]->value, 1 / 0.8, 1e-12));
    CHECK(agree(*gains[1]->value, 1 / 0.9, 1e-12));
    const auto together = metrics::evaluate(with_correction({}, runs));
    CHECK(only(together, "correction_gain").sample.empty());
    CHECK(agree(*only(together, "correction_gain").value, 1.7 / 1.45, 1e-12));
    CHECK(all_of(together, "remaining_error")[1]->sample == "S2");
}

TEST_CASE("levels below 20 steps or outside the stated levels take no part in the fit", "[correction]")
{
    const std::vector<model::Run> runs{
        read_levels({{0.19, 0.15, 0.15}, {100, 80, 80}, {1000, 900, 900}, {10000, 5000, 5000}})};
    model::CorrectionRequest request;
    request.highest_lx = 100;
    const auto evaluation = metrics::evaluate(with_correction(request, runs));
    CHECK(agree(*only(evaluation, "correction_gain").value, 1.25, 1e-12));
    CHECK(all_of(evaluation, "remaining_error").size() == 4);
    request.lowest_lx = 1e5;
    request.highest_lx.reset();
    const auto none = metrics::evaluate(with_correction(request, runs));
    CHECK(only(none, "correction_gain").undecided ==
          "no decided level within the range of the fit whose reading is at least 20 steps");
    CHECK(all_finite(none));
}

TEST_CASE("one illuminance tells no offset, and a substitution no halves", "[correction]")
{
    model::CorrectionRequest request;
    request.with_offset = true;
    const auto single = metrics::evaluate(with_correction(request, {read_levels({{100, 80, 80}})}));
    CHECK(only(single, "correction_offset").undecided ==
          "readings at one illuminance tell a gain, not a gain and an offset");
    const auto substituted = metrics::evaluate(with_correction(
        {}, {comparison("s", {100, 100, 100, 100, 100, 100}, {missing, missing, 80, 80.1, missing, missing},
                        {100, 100.1, missing, missing, 100, 100.1})}));
    CHECK(only(substituted, "remaining_error").undecided ==
          "run s, level 100 lx: readings of a substitution cannot be parted into halves");
    CHECK(all_finite(substituted));
}

TEST_CASE("a correction of a configuration that was not read says so", "[correction]")
{
    auto qualification = with_correction({}, {read_levels({{100, 80, 80}})});
    qualification.corrections[0].configuration = "windowed";
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "correction_gain").undecided ==
          "no comparison run of windowed at the reference temperature");
    CHECK(all_of(evaluation, "remaining_error").empty());
}
