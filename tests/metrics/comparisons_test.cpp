#include "metrics/laboratory.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

/// Levels with three readings each, the meter reading the level itself.
model::Run levels(const std::vector<double>& level, const std::vector<double>& reading)
{
    std::vector<double> nominal, sensor, meter;
    for (std::size_t i = 0; i < level.size(); ++i)
        for (const double scatter : {0.0, 1e-3, -1e-3}) {
            nominal.push_back(level[i]);
            sensor.push_back(reading[i] * (1 + scatter));
            meter.push_back(level[i] * (1 + scatter / 2));
        }
    return comparison("r", nominal, sensor, meter);
}

const model::Result* deviation(const model::Evaluation& evaluation, double level, const std::string& line,
                               const std::string& relative_to)
{
    for (const auto& result : evaluation.results)
        if (result.metric == "linearity_deviation" &&
            result.conditions.at("line") == model::ConditionValue(line) &&
            result.conditions.at("relative_to") == model::ConditionValue(relative_to) &&
            std::get<model::ConditionQuantity>(result.conditions.at("level")).value == level)
            return &result;
    return nullptr;
}

}  // namespace

TEST_CASE("a reading of 505 lx against 500 lx is an error of +1.0 %, 320 lx against 300 lx one of +6.67 %",
          "[reading_error]")
{
    // Common practice, no source; at the precision printed.
    auto qualification = laboratory();
    qualification.runs = {levels({300, 500}, {320, 505})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto errors = all_of(evaluation, "reading_error");
    REQUIRE(errors.size() == 2);
    CHECK(std::abs(*errors[0]->value - 6.67) < 0.005);
    CHECK(std::abs(*errors[1]->value - 1.0) < 1e-10);
    CHECK(agree(*all_of(evaluation, "reading_difference")[1]->value, 5, 1e-10));
    CHECK(errors[0]->id == "reading_error/configuration=bare/level=300lx/sample=S1/source=led");
    CHECK(agree(errors[0]->illuminance_lx.value(), 300, 1e-12));
}

TEST_CASE("above u(E)/E = 0.1 the report says that the difference is to be judged, above 0.25 the error is "
          "not decided",
          "[reading_error]")
{
    const double index = GENERATE(0.16, 0.18, 0.42, 0.45);  // u = f1'/sqrt(3): 0.092, 0.104, 0.242, 0.260
    auto qualification = laboratory();
    qualification.meters[0].mismatch_index = index;
    qualification.runs = {levels({500}, {505})};
    const auto evaluation = metrics::evaluate(qualification);
    CAPTURE(index);
    CHECK(only(evaluation, "reading_error").undecided.empty() == (index < 0.44));
    CHECK(only(evaluation, "reading_difference").undecided.empty());
    CHECK(evaluation.statements.size() == (index > 0.17 && index < 0.44 ? 1U : 0U));
}

TEST_CASE("a product on a straight line has no deviation, its gain and offset are those of the line",
          "[linearity]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({10, 100, 1000, 10000}, {12 + 0.98 * 10, 12 + 98, 12 + 980, 12 + 9800})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "gain").value, 0.98, 1e-10));
    CHECK(agree(*only(evaluation, "offset").value, 12, 1e-8));
    for (const auto* result : all_of(evaluation, "linearity_deviation"))
        CHECK(std::abs(*result->value) < 1e-9);
}

TEST_CASE("deviations that are zero by construction are no results", "[linearity]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({10, 100, 1000, 10000}, {10, 101, 1003, 9980})};
    const auto evaluation = metrics::evaluate(qualification);
    for (const std::string relative : {"reading", "span"}) {
        CHECK(deviation(evaluation, 10, "zero-based", relative) == nullptr);
        CHECK(deviation(evaluation, 100, "zero-based", relative) != nullptr);
        CHECK(deviation(evaluation, 10, "terminal-based", relative) == nullptr);
        CHECK(deviation(evaluation, 10000, "terminal-based", relative) == nullptr);
        CHECK(deviation(evaluation, 1000, "terminal-based", relative) != nullptr);
        CHECK(deviation(evaluation, 10, "least-squares", relative) != nullptr);
        CHECK(deviation(evaluation, 10, "independent", relative) != nullptr);
    }
}

TEST_CASE("the terminal-based deviation is the distance from the line through the ends", "[linearity]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({100, 200, 300}, {100, 204, 300})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*deviation(evaluation, 200, "terminal-based", "span")->value, 100 * 4.0 / 200, 1e-9));
    CHECK(agree(*deviation(evaluation, 200, "terminal-based", "reading")->value, 100 * 4.0 / 204, 1e-9));
    // the independent line halves it, alternating
    CHECK(agree(*deviation(evaluation, 200, "independent", "span")->value, 1, 1e-9));
    CHECK(agree(*deviation(evaluation, 100, "independent", "span")->value, -1, 1e-9));
}

TEST_CASE("what all levels share moves the gain and leaves the deviations", "[linearity]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({10, 100, 1000, 10000}, {10, 101, 1003, 9980})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& gain = only(evaluation, "gain");
    CHECK(agree(line_of(evaluation, gain, "/common").contribution, *gain.value * 0.004, 1e-9));
    for (const auto* result : all_of(evaluation, "linearity_deviation")) {
        CAPTURE(result->id);
        for (const std::string shared : {"/common", "annual-drift", "spectral-mismatch/source=led"})
            CHECK(line_of(evaluation, *result, shared).contribution < 1e-12 * 100);
    }
}

TEST_CASE("two levels make no line", "[linearity]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({100, 200}, {100, 204})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(all_of(evaluation, "gain").empty());
    CHECK(all_of(evaluation, "linearity_deviation").empty());
}

TEST_CASE("without f3 of the meter deviations are not decided, the gain is", "[linearity]")
{
    auto qualification = laboratory();
    qualification.meters[0].linearity.reset();
    qualification.runs = {levels({100, 200, 300}, {100, 204, 300})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "linearity_deviation")
              .undecided.starts_with("the linearity (f3) of meter M1 is not stated"));
    CHECK(only(evaluation, "gain").undecided.empty());
}

TEST_CASE("one level outside the calibrated span leaves the whole line not decided", "[linearity]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({0.5, 200, 300}, {0.5, 204, 300})};
    const auto evaluation = metrics::evaluate(qualification);
    for (const auto* result : all_of(evaluation, "linearity_deviation"))
        CHECK(!result->undecided.empty());
    CHECK(!only(evaluation, "gain").undecided.empty());
    const auto errors = all_of(evaluation, "reading_error");
    CHECK(!errors[0]->undecided.empty());
    CHECK(errors[1]->undecided.empty());
}

TEST_CASE("a minimax line that other levels could hold raises a remark, one that is held clearly does not",
          "[linearity]")
{
    // Deviations of +-50 lx in 1000 lx stand far above what the meter leaves open; +-0.02 lx do not.
    const bool clear = GENERATE(true, false);
    auto qualification = laboratory();
    auto& certificate = *qualification.meters[0].certificate;
    certificate.common_relative_expanded_uncertainty = 0.01;  // all of it common
    if (clear)
        qualification.runs = {levels({200, 400, 600, 800, 1000}, {200, 450, 625, 825, 1000})};
    else
        qualification.runs = {levels({200, 400, 600, 800, 1000}, {200, 400.02, 600, 799.98, 1000})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto* remark = remark_of(evaluation, "competing-set");
    CHECK((remark == nullptr) == clear);
    if (remark != nullptr) {
        CHECK(remark->severity == model::RemarkSeverity::concern);
        for (const auto index : remark->results)
            CHECK(evaluation.results[index].metric == "linearity_deviation");
    }
}

TEST_CASE("a reading of zero has no logarithm and no relative deviation, and nothing is NaN", "[linearity]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({1, 200, 300}, {0, 204, 300})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "log_log_slope").undecided == "a reading that is not positive has no logarithm");
    CHECK(!deviation(evaluation, 1, "least-squares", "reading")->value.has_value());
    CHECK(deviation(evaluation, 1, "least-squares", "span")->value.has_value());
    CHECK(all_finite(evaluation));
}

TEST_CASE("a window response ratio takes off what the firmware applies", "[window]")
{
    auto qualification = laboratory();
    auto windowed = levels({100, 200}, {30, 60});
    windowed.id = "w";
    windowed.configuration = "windowed";  // the firmware multiplies by 2
    qualification.runs = {levels({100, 200}, {100, 200}), windowed};
    const auto evaluation = metrics::evaluate(qualification);
    const auto ratios = all_of(evaluation, "window_response_ratio");
    REQUIRE(ratios.size() == 2);
    CHECK(agree(*ratios[0]->value, 0.15, 1e-9));
    CHECK(ratios[0]->conditions.at("configuration") == model::ConditionValue(std::string("windowed")));
    CHECK(line_of(evaluation, *ratios[0], "/common").contribution < 1e-15);

    qualification.configurations[1].applied_factor.reset();
    const auto without = metrics::evaluate(qualification);
    CHECK(only(without, "window_response_ratio").undecided ==
          "the applied_factor of configuration windowed is not stated");
}

TEST_CASE("a level without readings in the reference configuration has no ratio", "[window]")
{
    auto qualification = laboratory();
    auto windowed = levels({100}, {30});
    windowed.configuration = "windowed";
    windowed.id = "w";
    qualification.runs = {levels({200}, {200}), windowed};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "window_response_ratio").undecided ==
          "no readings of this level in the reference configuration bare");
}

TEST_CASE("two runs of one key are told apart by their id", "[registry]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({100}, {100}), levels({100, 200}, {100, 200})};
    qualification.runs[1].id = "again";
    const auto evaluation = metrics::evaluate(qualification);
    const auto errors = all_of(evaluation, "reading_error");
    REQUIRE(errors.size() == 3);
    CHECK(errors[0]->id == "reading_error/configuration=bare/level=100lx/run=r/sample=S1/source=led");
    CHECK(errors[1]->id == "reading_error/configuration=bare/level=100lx/run=again/sample=S1/source=led");
    CHECK(errors[2]->id == "reading_error/configuration=bare/level=200lx/sample=S1/source=led");
}

TEST_CASE("further conditions of a run are carried by its results", "[registry]")
{
    auto qualification = laboratory();
    qualification.runs = {levels({100}, {100})};
    qualification.runs[0].conditions["own_light"] = std::string("off");
    CHECK(only(metrics::evaluate(qualification), "reading_error").id ==
          "reading_error/configuration=bare/level=100lx/own_light=off/sample=S1/source=led");
}
