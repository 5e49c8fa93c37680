#include "metrics/laboratory.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

model::Run dark(std::vector<double> sensor)
{
    auto run = run_of("dark", model::RunKind::dark, {column("sensor", "lx", std::move(sensor))});
    run.sample = "S1";
    run.configuration = "bare";
    run.conditions["light"] = std::string("capped");
    return run;
}

}  // namespace

TEST_CASE("the dark noise is the standard deviation of one reading, without u", "[dark]")
{
    auto qualification = laboratory();
    qualification.runs = {dark({0.2, 0.6, 0.4, 1.0, 0.8})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "dark_reading").value, 0.6, 1e-12));
    CHECK(agree(*only(evaluation, "dark_noise").value, std::sqrt(0.1), 1e-12));
    CHECK(!only(evaluation, "dark_noise").combined.has_value());
    CHECK(!only(evaluation, "dark_noise").upper_bound);
}

TEST_CASE("a noise below what the step can show is given as q over root 12, an upper bound", "[dark]")
{
    auto qualification = laboratory();
    qualification.runs = {dark({0.3, 0.3, 0.3, 0.3})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "dark_noise").value, 0.1 / std::sqrt(12.0), 1e-12));
    CHECK(only(evaluation, "dark_noise").upper_bound);
}

TEST_CASE("clipped dark readings take the noise of the lowest level of at least five steps", "[dark]")
{
    auto qualification = laboratory();
    qualification.runs = {dark({0, 0, 0.1, 0.2}),
                          comparison("r", {0.3, 0.3, 0.3, 2, 2, 2, 5, 5, 5},
                                     {0.3, 0.4, 0.2, 2.0, 2.4, 1.6, 5, 6, 4}, std::vector<double>(9, 1.0))};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "dark_noise").value, 0.4,
                1e-12));  // 0.3 lx is below 5 steps of 0.1 lx, 5 lx is not the lowest
    CHECK(only(evaluation, "dark_noise").upper_bound);
    REQUIRE(!evaluation.statements.empty());
    CHECK(evaluation.statements.front().text.find("clipped at zero") != std::string::npos);

    // one zero, or a reading below zero, is no clipping
    for (const auto& readings :
         {std::vector<double>{0, 0.1, 0.2, 0.6}, std::vector<double>{0, 0, -0.2, 0.6}}) {
        qualification.runs[0] = dark(readings);
        CHECK(!only(metrics::evaluate(qualification), "dark_noise").upper_bound);
    }
}

TEST_CASE("clipped dark readings without any level tell no noise", "[dark]")
{
    auto qualification = laboratory();
    qualification.runs = {dark({0, 0, 0, 0})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(!only(evaluation, "dark_noise").value.has_value());
    CHECK(only(evaluation, "dark_noise")
              .undecided.starts_with("run dark: the dark readings are clipped at zero"));
    CHECK(all_finite(evaluation));
}

TEST_CASE("a single dark reading tells no noise", "[dark]")
{
    auto qualification = laboratory();
    qualification.runs = {dark({0.3})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(*only(evaluation, "dark_reading").value == 0.3);
    CHECK(only(evaluation, "dark_noise").undecided == "run dark: a single reading tells no noise");
    CHECK(all_finite(evaluation));
}
