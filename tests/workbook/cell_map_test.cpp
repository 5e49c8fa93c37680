#include "workbook/cell_map.hpp"
#include "workbook/decision.hpp"
#include "workbook/plan_text.hpp"
#include "workbook/term.hpp"

#include "support/catch.hpp"

using namespace luxdossier;
using namespace luxdossier::workbook;

namespace {

model::Dossier dossier_with_rows(std::size_t rows)
{
    model::Table table;
    table.rows = rows;
    table.numbers.push_back({"meter", "E", "lx", "lx", std::vector<double>(rows, 1.0)});
    model::Run run;
    run.id = "warm-up";
    run.kind = model::RunKind::warm_up;
    run.table = std::make_shared<const model::Table>(std::move(table));
    model::Dossier dossier;
    dossier.qualification.runs.push_back(run);
    return dossier;
}

}  // namespace

TEST_CASE("a log longer than a sheet goes on in further sheets", "[workbook]")
{
    // A sheet has 1 048 576 rows, four of which stand above the readings.
    constexpr std::uint32_t rows_of_a_sheet = 1'048'572;
    const auto short_log = dossier_with_rows(rows_of_a_sheet),
               long_log = dossier_with_rows(rows_of_a_sheet + 1);
    CHECK(CellMap(short_log).readings().front().names == std::vector<std::string>{"run warm-up"});
    const CellMap map(long_log);
    CHECK(map.readings().front().names == std::vector<std::string>{"run warm-up", "run warm-up 2"});
    const auto [last_sheet, last] = map.reading(0, rows_of_a_sheet - 1, 0);
    CHECK(*last_sheet == "run warm-up");
    CHECK(cell_name(last) == "C1048576");
    const auto [next_sheet, next] = map.reading(0, rows_of_a_sheet, 0);
    CHECK(*next_sheet == "run warm-up 2");
    CHECK(cell_name(next) == "C5");
}

TEST_CASE("products move their sign to the front, where a spreadsheet reads it as ours", "[workbook]")
{
    const Term a{"-A1", -2}, b{"B1/C1", 3}, one{"1", 1};
    CHECK(product(a, b).text == "-A1*B1/C1");
    CHECK(product(a, b).value == -6);
    CHECK(product(a, a).text == "A1*A1");
    CHECK(product(one, negated(b)).text == "-B1/C1");
    const Term terms[] = {b, a, one};
    CHECK(sum(terms).text == "B1/C1-A1+1");
    CHECK(sum(terms).value == 2);
    CHECK(sum({}).text == "0");
}

TEST_CASE("helper cells of an estimator are computed as a spreadsheet computes them", "[workbook]")
{
    uncertainty::CellPlan plan;
    plan.cells = {{"x", "{i0}"},
                  {"y", "{i1}"},
                  {"sign before power", "-{c0}^2"},
                  {"sum", "SUM({c0}:{c1})"},
                  {"centred", "SUMPRODUCT({c0}:{c1}-{c3}/2,{c0}:{c1}-{c3}/2)"},
                  {"choice", "IF({c0}>={c1},1,POWER({c1},3))"}};
    const double inputs[] = {2, 5};
    const auto values = plan_values(plan, inputs);
    REQUIRE(values.has_value());
    // A sign binds more tightly than ^ in a spreadsheet: -2^2 = 4.
    CHECK(*values == std::vector<double>{2, 5, 4, 7, 4.5, 125});
    plan.cells.push_back({"unknown", "GAMMA(2)"});
    CHECK_FALSE(plan_values(plan, inputs).has_value());
    plan.cells.back().formula = "LN(0)";
    CHECK_FALSE(plan_values(plan, inputs).has_value());
}

TEST_CASE("the check of a verdict's formulas knows the three rules", "[workbook]")
{
    // Tolerance 0 to 10, U = 1; outcomes by ILAC-G8:09/2019, 4.2.
    const model::DecisionRule simple{model::RuleKind::simple_acceptance, 1},
        guarded{model::RuleKind::guarded_acceptance, 1}, four{model::RuleKind::four_outcome, 1};
    struct Row {
        double value;
        model::Outcome simple, guarded, four;
    };
    using enum model::Outcome;
    for (const auto& row :
         {Row{5, pass, pass, pass}, Row{9, pass, pass, pass}, Row{9.5, pass, fail, conditional_pass},
          Row{10, pass, fail, conditional_pass}, Row{10.5, fail, fail, conditional_fail},
          Row{11.5, fail, fail, fail}, Row{-0.5, fail, fail, conditional_fail}}) {
        const Judged judged{row.value, 1.0, 0.0, 10.0, false};
        CAPTURE(row.value);
        CHECK(decide(judged, simple).outcome == row.simple);
        CHECK(decide(judged, guarded).outcome == row.guarded);
        CHECK(decide(judged, four).outcome == row.four);
    }
    CHECK(decide({5, 6.0, 0.0, 10.0, false}, guarded).outcome == not_decided);
    CHECK(decide({17, 6.0, 0.0, 10.0, false}, guarded).outcome == fail);
    CHECK(decide({5, {}, 0.0, 10.0, false}, guarded).outcome == not_decided);
    CHECK(decide({5, {}, 0.0, 10.0, true}, simple).outcome == not_decided);
    CHECK(decide({5, {}, {}, 10.0, true}, simple).outcome == pass);
}
