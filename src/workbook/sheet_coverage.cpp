#include "uncertainty/coverage.hpp"
#include "workbook/sheets.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

/// Coefficients of 1/nu, 1/nu^2 ... of Student's t quantile around the normal quantile z, as polynomials of
/// z. Source: Abramowitz and Stegun, 26.7.5; checked against the table beside it.
struct Expansion {
    const char* formula;
    double (*value)(double z);
};

const std::array<Expansion, 4> expansion{{
    {"(POWER({0},3)+{0})/4", [](double z) { return (z * z * z + z) / 4; }},
    {"(5*POWER({0},5)+16*POWER({0},3)+3*{0})/96",
     [](double z) { return (5 * std::pow(z, 5) + 16 * std::pow(z, 3) + 3 * z) / 96; }},
    {"(3*POWER({0},7)+19*POWER({0},5)+17*POWER({0},3)-15*{0})/384",
     [](double z) {
         return (3 * std::pow(z, 7) + 19 * std::pow(z, 5) + 17 * std::pow(z, 3) - 15 * z) / 384;
     }},
    {"(79*POWER({0},9)+776*POWER({0},7)+1482*POWER({0},5)-1920*POWER({0},3)-945*{0})/92160",
     [](double z) {
         return (79 * std::pow(z, 9) + 776 * std::pow(z, 7) + 1482 * std::pow(z, 5) - 1920 * std::pow(z, 3) -
                 945 * z) /
                92160;
     }},
}};

/// One row of the quantities of the expansion and of the table.
void write_factor(Book& book, Sheet& sheet, std::uint32_t i)
{
    const double p = book.dossier.evaluation.coverage_probability;
    const double z = uncertainty::coverage_factor(p, uncertainty::infinite);
    const auto p_cell = absolute_reference("coverage", cells::coverage_probability);
    const auto z_cell = absolute_reference("coverage", cells::normal_quantile);
    const auto row = first_row + i;
    if (i == 0) {
        sheet.text({row, 0}, "coverage probability p");
        sheet.number(cells::coverage_probability, p, Look::editable);
    } else if (i == 1) {
        sheet.text({row, 0}, "normal quantile at (1 + p)/2");
        sheet.formula(cells::normal_quantile, fmt::format("NORMSINV((1+{})/2)", p_cell), z);
    } else if (i - 2 < expansion.size()) {
        sheet.text({row, 0}, fmt::format("coefficient of the power -{} of the degrees of freedom", i - 1));
        sheet.formula({row, 1}, fmt::format(fmt::runtime(expansion[i - 2].formula), z_cell),
                      expansion[i - 2].value(z));
    }
    const double nu = i + 1;
    const double k = uncertainty::coverage_factor(p, nu);
    const auto nu_cell = cell_name({row, 3}), first = cell_name({row, 4});
    sheet.number({row, 3}, nu, Look::whole);
    sheet.formula({row, 4}, fmt::format("SQRT({0}*(1/BETAINV(1-{1},{0}/2,0.5)-1))", nu_cell, p_cell), k);
    // One step of Newton: some programs end the inverse beta function after nine digits.
    sheet.formula(
        {row, 5},
        fmt::format("{0}+(TDIST({0},{1},2)-(1-{2}))/2*EXP(GAMMALN({1}/2)-GAMMALN(({1}+1)/2))*SQRT({1}*PI())*"
                    "POWER(1+{0}*{0}/{1},({1}+1)/2)",
                    first, nu_cell, p_cell),
        k);
}

}  // namespace

void write_coverage(Book& book)
{
    auto& sheet = book.xlsx.sheet("coverage");
    sheet.title("Coverage factors",
                "Two-sided quantiles of Student's t (JCGM 100, G.6.4): a table up to 120 degrees of "
                "freedom, an expansion around the normal quantile above.",
                ways());
    sheet.headings(heading_row, {{"quantity", false, 54},
                                 {"value", true, 14},
                                 {"", false, 4},
                                 {"degrees of freedom", true, 11},
                                 {"first value", true, 14},
                                 {"coverage factor", true, 14},
                                 {"", false, 4},
                                 {"further factor", false, 58},
                                 {"value", true, 14},
                                 {"stored because"}});
    const auto& factors = book.map.factors();
    const auto rows = std::max<std::size_t>(cells::tabulated_factors, factors.size());
    for (std::uint32_t i = 0; i < rows; ++i) {
        const auto row = first_row + i;
        if (i < cells::tabulated_factors)
            write_factor(book, sheet, i);
        if (i >= factors.size())
            continue;
        sheet.text({row, column::factor_name}, factors[i].name);
        book.store(sheet, {row, column::factor_value}, factors[i].value, factors[i].reason);
        sheet.text({row, column::factor_reason}, factors[i].reason, Look::after);
    }
    book.xlsx.define_name("coverage_probability",
                          absolute_reference("coverage", cells::coverage_probability));
}

}  // namespace luxdossier::workbook
