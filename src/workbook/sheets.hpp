#pragma once

#include "workbook/cell_map.hpp"
#include "workbook/derivatives.hpp"
#include "workbook/means.hpp"
#include "workbook/recipes.hpp"
#include "workbook/stored_upstream.hpp"
#include "workbook/xlsx.hpp"

#include <map>
#include <string>

namespace luxdossier::workbook {

/// A cell that holds what the program computed where one would look for a formula, and why.
struct StoredCell {
    std::string sheet;
    Position position;
    std::string reason;
};

/// What the writers of the sheets share.
struct Book {
    const model::Dossier& dossier;
    Xlsx& xlsx;
    CellMap& map;
    const MeanFormulas& means;
    const Derivatives& derivatives;
    const Recipes& recipes;
    const StoredUpstream& stored_upstream;
    std::vector<StoredCell> stored;  ///< every one, in the order of writing

    /// Margin in multiples of U of each verdict, where its cell gives one.
    std::vector<std::optional<double>> relative_margins{};

    [[nodiscard]] Sheet& sheet(const std::string& name) const { return xlsx.sheet(name); }

    /// A formula where there is one, else the number, which is then counted. Returns true where it lives.
    /// Infinite degrees of freedom are the word "infinite".
    bool number(Sheet& sheet, Position position, const Term* formula, double value, const std::string& reason,
                Look look = Look::number);
    /// What the program computed, marked as stored and noted down with its reason.
    void store(Sheet& sheet, Position position, double value, const std::string& reason);
    void store(Sheet& sheet, Position position, std::string_view text, const std::string& reason);
};

inline constexpr const char* infinite_word = "infinite";

// One function a sheet (the small ones of one subject together), in the order of the workbook.
void write_guide(Book& book);  ///< written last: it counts what is stored
void write_verdicts(Book& book);
void write_limits(Book& book);
void write_results(Book& book);
void write_budgets(Book& book);
void write_coverage(Book& book);  ///< coverage factors for any degrees of freedom
void write_model(Book& book);
void write_derivatives(Book& book);
void write_inputs(Book& book);  ///< and groups
void write_means(Book& book);   ///< and pools
void write_runs(Book& book);
void write_meters(Book& book);
void write_remarks(Book& book);
void write_evidence(Book& book);
void write_charts(Book& book);  ///< and the sheet of their numbers
void write_stored(Book& book);  ///< after all others but the guide: it lists what they stored

/// Cells that other sheets refer to by name.
namespace cells {
inline constexpr Position overall{first_row, 1};
inline constexpr Position outcome_order_first{first_row + 8, 3}, outcome_order_last{first_row + 12, 3};
inline constexpr Position default_rule{first_row, column::limit_rule},
    default_multiple{first_row, column::limit_multiple};
inline constexpr Position coverage_probability{first_row, 1}, normal_quantile{first_row + 1, 1};
inline constexpr Position expansion{first_row + 2, 1};  ///< four coefficients, one below the other
inline constexpr Position factors_first{first_row, 5};
inline constexpr std::uint32_t tabulated_factors = 120;
inline constexpr std::uint16_t stored_reason = 1;
}  // namespace cells

/// "windowed, led, 100 lx, distance 1.5 m": the conditions of a result in one line.
[[nodiscard]] std::string conditions_text(const model::Result& result);
/// "Reading error, S1, windowed, led, 100 lx": how sheets name a result.
[[nodiscard]] std::string result_text(const model::Dossier& dossier, const model::Result& result);
[[nodiscard]] std::string metric_title(const model::Dossier& dossier, const std::string& metric);
/// The way from any sheet to the main ones.
[[nodiscard]] std::vector<Link> ways();

}  // namespace luxdossier::workbook
