#include "metrics/laboratory.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

model::Run of_sample(const std::string& sample, double reading, const std::string& id = "r")
{
    auto run = comparison(id, {100, 100, 100}, {reading, reading + 0.1, reading - 0.1}, {100, 100.05, 99.95});
    run.sample = sample;
    return run;
}

model::Qualification five_samples()
{
    auto qualification = laboratory();
    qualification.samples.clear();
    qualification.product.resolution = quantity(0.01, "lx", 0);
    const std::vector<double> readings{98, 99, 100, 101, 102};
    for (std::size_t i = 0; i < readings.size(); ++i) {
        const auto id = "S" + std::to_string(i + 1);
        qualification.samples.push_back({id, "", "", "", ""});
        qualification.runs.push_back(of_sample(id, readings[i], "r" + std::to_string(i + 1)));
    }
    return qualification;
}

}  // namespace

TEST_CASE("the standard deviation between units is that of their errors, and what they share cancels",
          "[samples]")
{
    // By hand: errors -2, -1, 0, 1, 2 %: s = sqrt(2.5).
    const auto evaluation = metrics::evaluate(five_samples());
    const auto& result = only(evaluation, "unit_standard_deviation");
    CHECK(result.id == "unit_standard_deviation/configuration=bare/level=100lx/of=reading_error/source=led");
    CHECK(agree(*result.value, std::sqrt(2.5), 1e-9));
    CHECK(line_of(evaluation, result, "/common").contribution < 0.02 * 0.4);  // of 0.4 % alone
    CHECK(worst_sensitivity(evaluation, result) < 1e-5);
}

TEST_CASE("the tolerance interval is mean -+ k s, widened by what all samples share", "[samples]")
{
    // ISO 16269-6, n = 5: k = 5.076875 (second computation). Shared and not negligible: certificate, point
    // and common part, ageing, linearity, spectral mismatch: the combined u of one error less its own
    // readings.
    const auto evaluation = metrics::evaluate(five_samples());
    const double lower = *only(evaluation, "tolerance_interval_lower").value;
    const double upper = *only(evaluation, "tolerance_interval_upper").value;
    CHECK(std::abs((lower + upper) / 2) < 1e-9);
    double shared = 0;
    const auto errors = all_of(evaluation, "reading_error");
    for (const auto& line : evaluation.budget(*errors[2]).lines)
        if (evaluation.graph.inputs()[line.input.index].identity.starts_with("meter:"))
            shared += line.contribution * line.contribution;
    const double half = 5.076874532067719 * std::sqrt(2.5) + 2.0 * std::sqrt(shared);
    CHECK(std::abs((upper - lower) / 2 - half) < 1e-3 * half);
    CHECK((upper - lower) / 2 > 5.076874532067719 * std::sqrt(2.5));
}

TEST_CASE("samples measured again are parted from their repetitions by an analysis of variance", "[samples]")
{
    // By hand: samples at 0 and 4 %, each measured twice 0.2 % apart: MS_between 16, MS_within 0.02, n_0 = 2.
    auto qualification = five_samples();
    qualification.runs = {of_sample("S1", 99.9, "a"), of_sample("S1", 100.1, "b"),
                          of_sample("S2", 103.9, "c"), of_sample("S2", 104.1, "d")};
    for (std::size_t i = 0; i < 4; ++i)
        qualification.runs[i].conditions["remount"] = std::string(i % 2 == 0 ? "1" : "2");
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "unit_standard_deviation").value, std::sqrt((16 - 0.02) / 2), 1e-9));
    CHECK(agree(*only(evaluation, "repeatability_standard_deviation").value, std::sqrt(0.02), 1e-9));
    CHECK(all_of(evaluation, "reproducibility_standard_deviation").empty());  // one day, one operator
}

TEST_CASE("reproducibility adds the component between days", "[samples]")
{
    // By hand: day means 0 and 2 %, each day twice 0.2 % apart: MS_between 4, s_r^2 = 0.02, s_L^2 = (4 -
    // 0.02)/2.
    auto qualification = five_samples();
    qualification.runs = {of_sample("S1", 99.9, "a"), of_sample("S1", 100.1, "b"),
                          of_sample("S1", 101.9, "c"), of_sample("S1", 102.1, "d")};
    for (std::size_t i = 0; i < 4; ++i) {
        qualification.runs[i].conditions["remount"] = std::string(i % 2 == 0 ? "1" : "2");
        qualification.runs[i].conditions["day"] = std::string(i < 2 ? "monday" : "tuesday");
    }
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "repeatability_standard_deviation").value, std::sqrt(0.02), 1e-9));
    CHECK(agree(*only(evaluation, "reproducibility_standard_deviation").value, std::sqrt(0.02 + 1.99), 1e-9));
    CHECK(all_of(evaluation, "unit_standard_deviation").empty());
}

TEST_CASE("one sample has no scatter, equal samples none that is known, an undecided one none at all",
          "[samples]")
{
    auto qualification = five_samples();
    qualification.runs = {of_sample("S1", 100, "a")};
    CHECK(all_of(metrics::evaluate(qualification), "tolerance_interval_lower").empty());
    qualification.runs.push_back(of_sample("S2", 100, "b"));
    const auto alike = metrics::evaluate(qualification);
    CHECK(only(alike, "unit_standard_deviation").undecided ==
          "all samples read alike: their scatter is not known");
    CHECK(all_finite(alike));
    qualification.meters[0].mismatch_index = 0.45;  // u(E)/E above 0.25: no error is decided
    CHECK(only(metrics::evaluate(qualification), "tolerance_interval_upper").undecided ==
          "a sample has no decided reading error");
}

TEST_CASE("the worst sample is named", "[samples]")
{
    auto qualification = five_samples();
    qualification.runs.back() = of_sample("S5", 103, "r5");
    const auto evaluation = metrics::evaluate(qualification);
    const auto found = std::ranges::find(evaluation.statements, "samples", &model::Statement::family);
    REQUIRE(found != evaluation.statements.end());
    CHECK(found->text == "Worst sample: S5, reading error 3 % (bare, led, 100 lx).");
}
