#include "metrics/laboratory.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::test;

namespace {

/// Levels under one source with three readings each, the meter reading the level itself.
model::Run under(const std::string& source, const std::vector<double>& level,
                 const std::vector<double>& reading)
{
    std::vector<double> nominal, sensor, meter;
    for (std::size_t i = 0; i < level.size(); ++i)
        for (const double scatter : {0.0, 1e-3, -1e-3}) {
            nominal.push_back(level[i]);
            sensor.push_back(reading[i] * (1 + scatter));
            meter.push_back(level[i] * (1 + scatter / 2));
        }
    auto run = comparison("under-" + source, nominal, sensor, meter);
    run.source = source;
    return run;
}

/// The laboratory with a lamp and a tube beside its LED, which is the reference.
model::Qualification three_sources()
{
    auto qualification = laboratory();
    model::Source lamp, tube;
    lamp.id = "lamp";
    lamp.kind = model::SourceKind::incandescent;
    tube.id = "tube";
    tube.kind = model::SourceKind::fluorescent;
    qualification.sources.push_back(lamp);
    qualification.sources.push_back(tube);
    qualification.reference_source = "led";
    return qualification;
}

std::string source_of(const model::Result& result)
{
    return model::condition_text(result.conditions.at("source"));
}

}  // namespace

TEST_CASE("source variation is the response under a source over that under the reference source, less 1",
          "[source_variation]")
{
    // By hand: (115.5/100)/(105/100) - 1 = 10 %; 210/200 over 210/200 is 0.
    auto qualification = three_sources();
    qualification.runs = {under("led", {100, 200}, {105, 210}), under("lamp", {100, 200}, {115.5, 210})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto found = all_of(evaluation, "source_variation");
    REQUIRE(found.size() == 2);
    CHECK(found[0]->id == "source_variation/configuration=bare/level=100lx/sample=S1/source=lamp");
    CHECK(agree(*found[0]->value, 10, 1e-9));
    CHECK(std::abs(*found[1]->value) < 1e-9);
    CHECK(worst_sensitivity(evaluation, *found[0]) < 1e-6);
}

TEST_CASE("certificate, ageing and linearity cancel in a source variation, spectral inputs stay",
          "[source_variation]")
{
    auto qualification = three_sources();
    qualification.runs = {under("led", {100}, {105}), under("lamp", {100}, {115.5})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& variation = only(evaluation, "source_variation");
    for (const auto* input : {"/common", "/annual-drift", "/linearity/level=100lx"})
        CHECK(line_of(evaluation, variation, input).contribution < 1e-12);
    double spectral = 0;
    for (const auto& line : evaluation.budget(variation).lines)
        if (evaluation.graph.inputs()[line.input.index].quantity.starts_with("spectral mismatch"))
            spectral += line.contribution > 0.1 ? 1 : 0;
    CHECK(spectral == 2);
    REQUIRE(std::ranges::count(evaluation.statements, "source-variation", &model::Statement::family) == 1);
    const auto statement =
        std::ranges::find(evaluation.statements, "source-variation", &model::Statement::family);
    CHECK(statement->text.find("certificate of M1, common part (u of 0.462 % alone, below 0.001 % here)") !=
          std::string::npos);
}

TEST_CASE("levels that differ by more than 5 % are interpolated over the logarithm of the illuminance",
          "[source_variation]")
{
    // At 100 lx, half way between 10 lx and 1000 lx on a logarithmic axis: (1.00 + 1.10)/2 = 1.05.
    auto qualification = three_sources();
    qualification.runs = {under("led", {10, 1000}, {10, 1100}), under("lamp", {100}, {105})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& variation = only(evaluation, "source_variation");
    CHECK(std::abs(*variation.value) < 1e-9);
    const auto line = line_of(evaluation, variation, "/interpolation=10..1000lx");
    CHECK(agree(line.contribution, 100 * 0.05 / std::sqrt(3.0) / 1.05, 1e-9));
    CHECK(worst_sensitivity(evaluation, variation) < 1e-6);
}

TEST_CASE("levels that agree within 5 % are compared, just beyond they are not", "[source_variation]")
{
    const double reference = GENERATE(95.3, 95.1);  // 100/95.3 = 1.0493, 100/95.1 = 1.0515
    auto qualification = three_sources();
    qualification.runs = {under("led", {reference}, {reference}), under("lamp", {100}, {110})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& variation = only(evaluation, "source_variation");
    if (reference > 95.2) {
        CHECK(agree(*variation.value, 10, 1e-9));
    } else {
        CHECK(!variation.value);
        CHECK(variation.undecided ==
              "no readings under source led within 5 % of this illuminance, and none to "
              "both sides of it to interpolate between");
    }
    // One at the nominal level of either source.
    CHECK(all_of(evaluation, "source_difference").size() == (reference > 95.2 ? 2 : 0));
}

TEST_CASE("each pair of sources has one difference a level, in the header's order", "[source_variation]")
{
    auto qualification = three_sources();
    qualification.runs = {under("tube", {100}, {97}), under("led", {100}, {102}),
                          under("lamp", {100}, {108})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto found = all_of(evaluation, "source_difference");
    REQUIRE(found.size() == 3);
    const std::vector<std::tuple<std::string, std::string, double>> expected{
        {"led", "lamp", -6}, {"led", "tube", 5}, {"lamp", "tube", 11}};
    for (std::size_t i = 0; i < 3; ++i) {
        CHECK(source_of(*found[i]) == std::get<0>(expected[i]));
        CHECK(model::condition_text(found[i]->conditions.at("other_source")) == std::get<1>(expected[i]));
        CHECK(agree(*found[i]->value, std::get<2>(expected[i]), 1e-9));
    }
}

TEST_CASE("the spread is the greatest of the differences, with its uncertainty", "[source_variation]")
{
    auto qualification = three_sources();
    qualification.runs = {under("led", {100}, {102}), under("lamp", {100}, {108}),
                          under("tube", {100}, {97})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto& spread = only(evaluation, "source_spread");
    const auto& greatest = *all_of(evaluation, "source_difference")[2];
    CHECK(spread.id == "source_spread/configuration=bare/level=100lx/sample=S1");
    CHECK(agree(*spread.value, 11, 1e-9));
    CHECK(agree(spread.combined->standard_uncertainty, greatest.combined->standard_uncertainty, 1e-12));
}

TEST_CASE("a level of which one source has no readings has no spread, and says which", "[source_variation]")
{
    auto qualification = three_sources();
    qualification.runs = {under("led", {100, 300}, {102, 300}), under("lamp", {100, 300}, {108, 300}),
                          under("tube", {100}, {97})};
    const auto evaluation = metrics::evaluate(qualification);
    const auto found = all_of(evaluation, "source_spread");
    REQUIRE(found.size() == 2);
    CHECK(found[0]->value.has_value());
    CHECK(found[1]->undecided.starts_with("no readings under source tube"));
}

TEST_CASE("of several runs the same nominal level counts before a nearer illuminance", "[source_variation]")
{
    auto qualification = three_sources();
    auto nearer = under("led", {100}, {150});
    nearer.id = "nearer";
    auto table = *nearer.table;
    table.numbers[0].values.assign(3, 101.0);  // another nominal level
    nearer.table = std::make_shared<model::Table>(table);
    auto nominal = under("led", {102}, {102});
    table = *nominal.table;
    table.numbers[0].values.assign(3, 100.0);
    nominal.table = std::make_shared<model::Table>(table);
    qualification.runs = {nearer, nominal, under("lamp", {100}, {110})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(agree(*only(evaluation, "source_variation").value, 10, 1e-9));
}

TEST_CASE("other samples and other temperatures are no reference", "[source_variation]")
{
    const bool sample = GENERATE(true, false);
    auto qualification = three_sources();
    qualification.samples.push_back({"S2", "", "", "", ""});
    qualification.runs = {under("led", {100}, {105}), under("lamp", {100}, {115.5})};
    if (sample)
        qualification.runs[0].sample = "S2";
    else
        qualification.runs[0].conditions["temperature"] = model::ConditionQuantity{313.15, "K"};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(!only(evaluation, "source_variation").value);
    CHECK(all_of(evaluation, "source_difference").empty());
}

TEST_CASE("one source has nothing to compare, and no reference source has no ratio", "[source_variation]")
{
    auto qualification = three_sources();
    qualification.runs = {under("led", {100}, {105})};
    CHECK(all_of(metrics::evaluate(qualification), "source_variation").empty());
    qualification.reference_source.clear();
    qualification.runs.push_back(under("lamp", {100}, {115.5}));
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(all_of(evaluation, "source_variation").empty());
    CHECK(all_of(evaluation, "source_difference").size() == 1);
}

TEST_CASE("where u(E)/E is above 0.25 neither the error nor its variation is decided", "[source_variation]")
{
    auto qualification = three_sources();
    qualification.meters[0].mismatch_index = 0.45;  // u = 0.45/sqrt(3) = 0.26
    qualification.runs = {under("led", {100}, {105}), under("tube", {100}, {115.5})};
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "source_variation").undecided.starts_with("u(E)/E is 0.26, above 0.25"));
    CHECK(only(evaluation, "source_difference").undecided.starts_with("u(E)/E is 0.26, above 0.25"));
    CHECK(all_finite(evaluation));
}

TEST_CASE("what the window changes in the source variation is the difference of the two", "[window]")
{
    // By hand: behind the window 1.2/1.0 - 1 = 20 %, without it 1.1/1.0 - 1 = 10 %.
    auto qualification = three_sources();
    qualification.runs = {under("led", {100}, {100}), under("lamp", {100}, {110}), under("led", {100}, {100}),
                          under("lamp", {100}, {120})};
    for (const std::size_t run : {2U, 3U}) {
        qualification.runs[run].configuration = "windowed";
        qualification.runs[run].id += "-windowed";
    }
    const auto evaluation = metrics::evaluate(qualification);
    const auto& change = only(evaluation, "source_variation_change");
    CHECK(change.id == "source_variation_change/configuration=windowed/level=100lx/sample=S1/source=lamp");
    CHECK(agree(*change.value, 10, 1e-9));
    CHECK(worst_sensitivity(evaluation, change) < 1e-6);
    CHECK(change.runs.size() == 4);
    // What the meter says of all four readings cancels.
    CHECK(line_of(evaluation, change, "/common").contribution < 1e-12);
}

TEST_CASE("a change by the window is not decided where one of the two is not", "[window]")
{
    auto qualification = three_sources();
    qualification.runs = {under("led", {100}, {100}), under("lamp", {1e6}, {1.1e6}),
                          under("led", {100}, {100}), under("lamp", {1e6}, {1.2e6})};
    for (const std::size_t run : {2U, 3U})
        qualification.runs[run].configuration = "windowed";
    const auto evaluation = metrics::evaluate(qualification);
    CHECK(only(evaluation, "source_variation_change").undecided ==
          only(evaluation, "source_variation").undecided);
    CHECK(all_finite(evaluation));
}
