#include "workbook/sheets.hpp"

#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

std::string budget_range(const BudgetBlock& block, std::uint16_t column)
{
    const auto last = block.group_row(block.groups.size()) - 1;
    return range_reference("budgets", {block.line_row(0), column}, {last, column});
}

/// Coverage factor at the degrees of freedom of a cell, by the sheet "coverage".
std::string factor_formula(const std::string& freedom)
{
    const auto at = [](Position position) { return absolute_reference("coverage", position); };
    const auto table = fmt::format("coverage!$F${}:$F${}", cells::factors_first.row + 1,
                                   cells::factors_first.row + cells::tabulated_factors);
    const auto z = at(cells::normal_quantile);
    const auto c = [&](std::uint32_t i) { return at({cells::expansion.row + i, cells::expansion.column}); };
    return fmt::format(
        "IF(ISNUMBER({0}),IF({0}<={1},INDEX({2},{0}),{3}+({4}+({5}+({6}+{7}/{0})/{0})/{0})/{0}),{3})",
        freedom, cells::tabulated_factors, table, z, c(0), c(1), c(2), c(3));
}

void write_value(Book& book, Sheet& sheet, std::uint32_t row, std::size_t index)
{
    const auto& result = book.dossier.evaluation.results[index];
    if (!result.value)
        return;
    const Position position{row, column::result_value};
    if (result.node && result.combined) {
        const auto cell = book.map.value(*result.node);
        sheet.formula(position, cell.text, *result.value, beside(result.combined->standard_uncertainty));
        return;
    }
    book.number(sheet, position, book.recipes.formula(index), *result.value,
                result.without_recipe.empty() ? "value without a model, made by the program"
                                              : result.without_recipe);
}

/// What follows when a reading is changed.
std::string liveness(const Book& book, std::size_t index)
{
    const auto& result = book.dossier.evaluation.results[index];
    if (!result.value)
        return {};
    const bool has_recipe = book.recipes.formula(index) != nullptr;
    if (!has_recipe && (!result.node || !result.combined))
        return "stored";
    if (book.stored_upstream.value(index))
        return "rests on stored cells";
    if (result.is_judged_by_trials)
        return "value live, interval of trials stored";
    if (has_recipe)
        return "live, without U";
    return book.stored_upstream.uncertainty(index) ? "value live, U rests on stored cells" : "live";
}

/// Cells of the combined and expanded uncertainty.
void write_uncertainty(Book& book, Sheet& sheet, std::uint32_t row, std::size_t index)
{
    const auto& result = book.dossier.evaluation.results[index];
    const auto& combined = result.combined.value();
    const auto* block = book.map.budget_of(index);
    const auto u = cell_name({row, column::result_uncertainty}),
               freedom = cell_name({row, column::result_freedom}),
               k = cell_name({row, column::result_factor}), value = cell_name({row, column::result_value}),
               expanded = cell_name({row, column::result_expanded});
    if (block == nullptr) {
        const std::string reason =
            "uncertainty of a result that no limit judges (its budget would make the file too large)";
        book.number(sheet, {row, column::result_uncertainty}, nullptr, combined.standard_uncertainty, reason);
        book.number(sheet, {row, column::result_freedom}, nullptr, combined.degrees_of_freedom, reason);
    } else if (block->budget.lines.empty()) {
        sheet.number({row, column::result_uncertainty}, 0);
        sheet.text({row, column::result_freedom}, infinite_word);
    } else {
        sheet.formula({row, column::result_uncertainty},
                      fmt::format("SQRT(MAX(0,SUMSQ({})+SUM({})))",
                                  budget_range(*block, column::budget_contribution),
                                  budget_range(*block, column::budget_covariance)),
                      combined.standard_uncertainty);
        const auto terms = budget_range(*block, column::budget_term);
        const auto formula = fmt::format("IF(SUM({0})*1E9<=POWER({1},4)*1.000000001,\"infinite\","
                                         "MAX(1,INT(POWER({1},4)/SUM({0})*1.000000001)))",
                                         terms, u);
        const Position position{row, column::result_freedom};
        if (std::isinf(combined.degrees_of_freedom))
            sheet.formula(position, formula, infinite_word);
        else
            sheet.formula(position, formula, combined.degrees_of_freedom, Look::whole);
    }
    const auto look = beside(combined.standard_uncertainty);
    if (result.is_judged_by_trials) {
        const std::string reason =
            "interval of the Monte Carlo method, which does not validate the law of propagation";
        const auto from = cell_name({row, column::result_from}), to = cell_name({row, column::result_to});
        sheet.text({row, column::result_factor}, "by trials");
        sheet.formula({row, column::result_expanded}, fmt::format("({}-{})/2", to, from),
                      *result.expanded_uncertainty(), look);
        book.store(sheet, {row, column::result_from}, result.monte_carlo->interval->lower, reason);
        book.store(sheet, {row, column::result_to}, result.monte_carlo->interval->upper, reason);
        return;
    }
    sheet.formula({row, column::result_factor}, factor_formula(freedom), combined.coverage_factor,
                  Look::factor);
    sheet.formula({row, column::result_expanded}, fmt::format("{}*{}", k, u), combined.expanded_uncertainty,
                  look);
    sheet.formula({row, column::result_from}, fmt::format("{}-{}", value, expanded),
                  combined.value - combined.expanded_uncertainty, look);
    sheet.formula({row, column::result_to}, fmt::format("{}+{}", value, expanded),
                  combined.value + combined.expanded_uncertainty, look);
}

}  // namespace

void write_results(Book& book)
{
    auto& sheet = book.xlsx.sheet("results");
    sheet.title(
        "Results",
        "Every result with its uncertainty, from the sheets model and budgets. U = k u covers the "
        "measurand with the stated coverage probability, which lies between the columns from and to; where "
        "trials of the Monte Carlo method do not validate it, their interval stands there.",
        ways());
    sheet.headings(heading_row, {{"quantity", false, 30},
                                 {"sample", false, 9},
                                 {"conditions"},
                                 {"verdict", false, 9},
                                 {"value", true, 11},
                                 {"unit", false, 8},
                                 {"u", true, 11},
                                 {"degrees of freedom", true, 9},
                                 {"k", true, 7},
                                 {"U", true, 10},
                                 {"from", true, 11},
                                 {"to", true, 11},
                                 {"budget", false, 8},
                                 {"readings", false, 22},
                                 {"live or stored", false, 34},
                                 {"not decided because", false, 40},
                                 {"identity, as in the record"}});
    const auto& evaluation = book.dossier.evaluation;
    std::map<std::size_t, std::size_t> verdict_of;
    for (std::size_t verdict = 0; verdict < book.dossier.verdicts.verdicts.size(); ++verdict)
        if (const auto result = book.dossier.verdicts.verdicts[verdict].result)
            verdict_of.emplace(*result, verdict);
    for (std::size_t index = 0; index < evaluation.results.size(); ++index) {
        const auto& result = evaluation.results[index];
        const auto row = first_row + static_cast<std::uint32_t>(index);
        sheet.text({row, 0}, metric_title(book.dossier, result.metric));
        sheet.text({row, 1}, result.sample);
        sheet.text({row, 2}, conditions_text(result));
        if (const auto verdict = verdict_of.find(index); verdict != verdict_of.end())
            sheet.link({row, column::result_verdict}, book.map.verdict_cell(verdict->second, 0), "verdict");
        write_value(book, sheet, row, index);
        sheet.text({row, 5}, result.unit, Look::after);
        if (result.combined)
            write_uncertainty(book, sheet, row, index);
        if (const auto* block = book.map.budget_of(index))
            sheet.link({row, 12}, reference("budgets", {block->row, 0}), "budget");
        if (!result.runs.empty())
            sheet.link(
                {row, 13},
                result.sets.empty()
                    ? reference(book.map.readings_of(result.runs.front()).names.front(), {first_row, 0})
                    : book.map.first_reading(result.sets.front()),
                book.dossier.qualification.runs[result.runs.front()].id);
        sheet.text({row, 14}, liveness(book, index));
        sheet.text({row, 15}, result.undecided);
        sheet.text({row, column::result_identity}, result.id);
    }
    sheet.print_until(column::result_identity - 1);
}

}  // namespace luxdossier::workbook
