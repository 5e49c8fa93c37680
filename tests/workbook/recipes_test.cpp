#include "workbook/log_window.hpp"
#include "workbook/recipes.hpp"

#include <cmath>
#include <functional>

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::workbook;
using Of = model::Recipe::Of;

namespace {

/// One run with all rows of a table.
model::Dossier dossier_of(const std::string& id, model::RunKind kind, model::Table table)
{
    model::Run run;
    run.id = id;
    run.kind = kind;
    for (std::uint32_t row = 0; row < table.rows; ++row)
        run.rows.push_back(row);
    run.table = std::make_shared<const model::Table>(std::move(table));
    model::Dossier dossier;
    dossier.qualification.runs.push_back(std::move(run));
    return dossier;
}

/// Ten readings in the dark: 11.6 to 13.4 in steps of 0.2, mean 12.5, s = 0.6055...
model::Dossier dark_dossier()
{
    model::Table table;
    table.rows = 10;
    std::vector<double> readings;
    for (int i = 0; i < 10; ++i)
        readings.push_back(11.6 + 0.2 * i);
    table.numbers.push_back({"sensor", "sensor", "lx", "lx", readings});
    auto dossier = dossier_of("dark", model::RunKind::dark, std::move(table));
    model::ReadingSet set;
    set.column = "sensor";
    set.rows = dossier.qualification.runs.front().rows;
    set.n = 10;
    set.mean = 12.5;
    set.resolution = 0.2;
    dossier.evaluation.sets.push_back(set);
    return dossier;
}

/// Sum of squares of +-0.1, +-0.3 ... +-0.9 is 3.3: s = sqrt(3.3 / 9).
const double deviation = std::sqrt(3.3 / 9);

void add(model::Dossier& dossier, double value, std::optional<model::Recipe> recipe)
{
    model::Result result;
    result.metric = "dark_noise";
    result.value = value;
    result.recipe = std::move(recipe);
    dossier.evaluation.results.push_back(std::move(result));
}

/// A log of 12 s, one reading a second; the last window of 4 s holds the last four readings.
model::Dossier log_dossier()
{
    model::Table table;
    table.rows = 12;
    std::vector<double> times, levels;
    for (int i = 0; i < 12; ++i) {
        times.push_back(i);
        levels.push_back(i < 8 ? 90.0 + i : 100.0);
    }
    levels[9] = 102;
    levels[10] = 101;
    levels[11] = 105;
    table.numbers.push_back({"time", "t", "s", "s", times});
    table.numbers.push_back({"meter", "E", "lx", "lx", levels});
    auto dossier = dossier_of("warm-up", model::RunKind::warm_up, std::move(table));
    dossier.qualification.evaluation.settling_window_s = 4;
    return dossier;
}

model::Dossier changed(model::Dossier dossier, const std::function<void(model::Run&, model::Table&)>& change)
{
    auto& run = dossier.qualification.runs.front();
    auto table = std::make_shared<model::Table>(*run.table);
    change(run, *table);
    run.table = std::move(table);
    return dossier;
}

}  // namespace

TEST_CASE("the noise in the dark is the larger of the set's deviation and what its step shows", "[workbook]")
{
    // Source: docs/metrics/low-light.md: s_0 = max(s, q/sqrt(12)).
    auto dossier = dark_dossier();
    add(dossier, deviation,
        model::Recipe{"MAX({i0},{i1}/SQRT(12))", {{Of::set_deviation, 0}, {Of::set_resolution, 0}}});
    const CellMap map(dossier);
    const Recipes recipes(dossier, map);
    REQUIRE(recipes.formula(0) != nullptr);
    CHECK(recipes.formula(0)->text == "MAX(means!G5,means!M5/SQRT(12))");
    CHECK(recipes.formula(0)->value == deviation);
}

TEST_CASE("a recipe that does not give what was evaluated is no formula", "[workbook]")
{
    auto dossier = dark_dossier();
    const model::Recipe noise{"{i0}", {{Of::set_deviation, 0}}};
    add(dossier, deviation * (1 + 1e-8), noise);  // neither, to 1e-9
    add(dossier, deviation * (1 + 1e-11), noise);
    add(dossier, deviation, model::Recipe{"NO_SUCH_FUNCTION({i0})", {{Of::set_deviation, 0}}});
    add(dossier, deviation, std::nullopt);
    const CellMap map(dossier);
    const Recipes recipes(dossier, map);
    CHECK(recipes.formula(0) == nullptr);
    CHECK(recipes.formula(1) != nullptr);
    CHECK(recipes.formula(2) == nullptr);
    CHECK(recipes.formula(3) == nullptr);
}

TEST_CASE("one reading tells no deviation, so no formula uses it", "[workbook]")
{
    auto dossier = dark_dossier();
    dossier.evaluation.sets.front().rows.resize(1);
    add(dossier, 0, model::Recipe{"{i0}", {{Of::set_deviation, 0}}});
    const CellMap map(dossier);
    CHECK(Recipes(dossier, map).formula(0) == nullptr);
}

TEST_CASE("recipes build on results, means and numbers that a sheet does not compute", "[workbook]")
{
    // A detection limit: factor times noise times sqrt(1 + 1/n) as of ISO 11843-2, 5.
    auto dossier = dark_dossier();
    add(dossier, deviation, model::Recipe{"{i0}", {{Of::set_deviation, 0}}});
    const double factor = 3.5, limit = factor * deviation * std::sqrt(1 + 1.0 / 10);
    model::Recipe::Operand number{Of::factor};
    number.value = factor;
    number.name = "non-centrality";
    number.reason = "found by an integral";
    add(dossier, limit,
        model::Recipe{"{i0}*{i1}*SQRT(1+1/{i2})", {number, {Of::result, 0}, {Of::set_size, 0}}});
    add(dossier, 12.5 / deviation, model::Recipe{"{i0}/{i1}", {{Of::set_mean, 0}, {Of::result, 0}}});
    const CellMap map(dossier);
    const Recipes recipes(dossier, map);
    REQUIRE(recipes.formula(1) != nullptr);
    // The factor is a number of its own among the coverage factors, with its reason.
    REQUIRE(map.factors().size() == 1);
    CHECK(recipes.formula(1)->text == map.factor_cell("non-centrality") + "*results!E5*SQRT(1+1/means!E5)");
    REQUIRE(recipes.formula(2) != nullptr);
    CHECK(recipes.formula(2)->text == "means!F5/results!E5");
}

TEST_CASE("a formula that no cell holds is none", "[workbook]")
{
    // A cell holds 8192 characters.
    auto dossier = dark_dossier();
    std::string sum = "{i0}";
    for (int i = 0; i < 1000; ++i)
        sum += "+0*{i0}";
    add(dossier, deviation, model::Recipe{sum, {{Of::set_deviation, 0}}});
    const CellMap map(dossier);
    CHECK(Recipes(dossier, map).formula(0) == nullptr);
}

TEST_CASE("the last window of a log is a range of its run's rows", "[workbook]")
{
    // 100, 102, 101, 105 at 8, 9, 10, 11 s: mean 102, S_xx 5, S_xy 7, S_yy 14; by hand.
    const auto dossier = log_dossier();
    const CellMap map(dossier);
    const auto window = LogWindow::of(dossier, map, 0);
    REQUIRE(window);
    CHECK(window->slope().text ==
          "SLOPE('run warm-up'!D13:D16,'run warm-up'!C13:C16)/AVERAGE('run warm-up'!D13:D16)");
    CHECK(window->slope().value == Approx(7.0 / 5 / 102).epsilon(1e-14));
    CHECK(window->slope_uncertainty().value ==
          Approx(std::sqrt((14 - 49.0 / 5) / 2 / 5) / 102).epsilon(1e-13));
    CHECK(window->freedom().value == 2);
    CHECK(window->peak_to_peak().value == Approx(100 * 5.0 / 102).epsilon(1e-14));
    CHECK(window->deviation().value == Approx(100 * std::sqrt(14.0 / 3) / 102).epsilon(1e-14));
}

TEST_CASE("a log whose last window is not a whole range of one sheet has no formula", "[workbook]")
{
    const auto dossier = log_dossier();
    SECTION("a row of the window is left out")
    {
        const auto gap =
            changed(dossier, [](model::Run& run, model::Table&) { run.rows.erase(run.rows.begin() + 9); });
        CHECK(!LogWindow::of(gap, CellMap(gap), 0));
    }
    SECTION("a reading of the window is missing")
    {
        const auto hole = changed(
            dossier, [](model::Run&, model::Table& table) { table.numbers[1].values[10] = std::nan(""); });
        CHECK(!LogWindow::of(hole, CellMap(hole), 0));
    }
    SECTION("the window lies on two sheets, four rows of each above the readings")
    {
        CHECK(!LogWindow::of(dossier, CellMap(dossier, 14), 0));
        CHECK(LogWindow::of(dossier, CellMap(dossier, 12), 0));
    }
    SECTION("two readings carry no slope with its uncertainty")
    {
        auto brief = dossier;
        brief.qualification.evaluation.settling_window_s = 1.5;
        CHECK(!LogWindow::of(brief, CellMap(brief), 0));
    }
    SECTION("the window is not stated")
    {
        auto none = dossier;
        none.qualification.evaluation.settling_window_s.reset();
        CHECK(!LogWindow::of(none, CellMap(none), 0));
    }
}
