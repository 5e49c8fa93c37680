#pragma once

#include "model/dossier.hpp"
#include "workbook/term.hpp"
#include "workbook/xlsx.hpp"

#include <map>
#include <optional>
#include <string>
#include <unordered_map>
#include <vector>

namespace luxdossier::workbook {

/// Title, explanation, links to other sheets and headings stand above the first row of every sheet.
inline constexpr std::uint32_t heading_row = 3;
inline constexpr std::uint32_t first_row = 4;

/// Columns of the sheets that formulas refer to.
namespace column {
inline constexpr std::uint16_t input_estimate = 3, input_uncertainty = 4, input_freedom = 5;
inline constexpr std::uint16_t group_covariance = 3, group_freedom = 4;
inline constexpr std::uint16_t node_value = 2, node_derivative = 3;
inline constexpr std::uint16_t derivative_value = 2;
inline constexpr std::uint16_t set_n = 4, set_mean = 5, set_own = 6, set_used = 7, set_r1 = 8, set_factor = 9,
                               set_uncertainty = 10, set_freedom = 11, set_resolution = 12, set_device = 16,
                               set_shows_own = 17;
inline constexpr std::uint16_t device_number = 1, device_sum = 2, device_weight = 3, device_estimate = 4,
                               device_r = 5, device_largest = 6, number_device = 7, number_n = 8,
                               number_effective = 9, number_trace = 10, number_trace_of_square = 11,
                               number_freedom = 12;
inline constexpr std::uint16_t result_verdict = 3, result_value = 4, result_uncertainty = 6,
                               result_freedom = 7, result_factor = 8, result_expanded = 9, result_from = 10,
                               result_to = 11, result_identity = 16;
inline constexpr std::uint16_t budget_estimate = 1, budget_uncertainty = 2, budget_freedom = 3,
                               budget_sensitivity = 4, budget_contribution = 5, budget_share = 6,
                               budget_term = 7, budget_covariance = 8;
inline constexpr std::uint16_t limit_lower = 4, limit_upper = 5, limit_percent = 7, limit_fixed = 8,
                               limit_combine = 9, limit_rule = 10, limit_multiple = 11, limit_outcome = 12;
inline constexpr std::uint16_t factor_name = 7, factor_value = 8, factor_reason = 9;
inline constexpr std::uint16_t verdict_outcome = 4, verdict_rank = 18, verdict_relative_margin = 22;
}  // namespace column

/// The budget of one result as it is laid out: a heading row, one row a line, one row a group.
struct BudgetBlock {
    std::size_t result = 0;
    uncertainty::Budget budget;
    std::uint32_t row = 0;            ///< of its heading
    std::vector<std::size_t> groups;  ///< of the graph, those with a member among the lines
    [[nodiscard]] std::uint32_t line_row(std::size_t line) const
    {
        return row + 1 + static_cast<std::uint32_t>(line);
    }
    [[nodiscard]] std::uint32_t group_row(std::size_t group) const
    {
        return line_row(budget.lines.size()) + static_cast<std::uint32_t>(group);
    }
};

/// Rows of one table of readings (a run's file): as many sheets as it takes.
struct ReadingSheets {
    std::vector<std::string> names;
    std::vector<std::size_t> runs;  ///< that share the table
    const model::Table* table = nullptr;
};

/// Where everything stands: settled before the first cell is written, so that any sheet may refer to any
/// other.
class CellMap {
public:
    /// `rows`: of one sheet; fewer than a spreadsheet holds only in tests.
    explicit CellMap(const model::Dossier& dossier, std::uint32_t rows = sheet_rows);

    /// Rows below the headings of one sheet of readings or of the model.
    [[nodiscard]] std::uint32_t rows_of_a_sheet() const { return rows_of_a_sheet_; }

    [[nodiscard]] Term estimate(uncertainty::Input input) const;
    [[nodiscard]] std::string uncertainty(uncertainty::Input input) const;
    [[nodiscard]] std::string freedom(uncertainty::Input input) const;
    /// The value of a node as an operand: a cell, or the number of a constant.
    [[nodiscard]] Term value(uncertainty::Node node) const;
    [[nodiscard]] std::string node_cell(uncertainty::Node node, std::uint16_t column) const;
    [[nodiscard]] std::string helper_cell(std::size_t call, std::size_t helper) const;
    [[nodiscard]] std::string set_cell(std::size_t set, std::uint16_t column) const;
    [[nodiscard]] std::string result_cell(std::size_t result, std::uint16_t column) const;
    [[nodiscard]] std::string limit_cell(std::size_t limit, std::uint16_t column) const;
    [[nodiscard]] std::string verdict_cell(std::size_t verdict, std::uint16_t column) const;
    [[nodiscard]] std::string covariance(std::size_t group, std::size_t a, std::size_t b) const;
    [[nodiscard]] std::string group_freedom(std::size_t group) const;
    /// Cell of a reading: the sheet that holds the row of the table, and the column of numbers.
    [[nodiscard]] std::pair<const std::string*, Position> reading(std::size_t run, std::uint32_t row,
                                                                  std::size_t number_column) const;
    [[nodiscard]] const ReadingSheets& readings_of(std::size_t run) const
    {
        return readings_[reading_of_run_.at(run)];
    }

    /// Nodes that some result with a value uses, in the order of the graph, inputs and constants left out.
    [[nodiscard]] const std::vector<uncertainty::Node>& nodes() const { return nodes_; }
    [[nodiscard]] const std::vector<uncertainty::CellPlan>& plans() const { return plans_; }  ///< one a call
    [[nodiscard]] const std::vector<ReadingSheets>& readings() const { return readings_; }
    [[nodiscard]] const std::vector<BudgetBlock>& budgets() const { return budgets_; }
    [[nodiscard]] const BudgetBlock* budget_of(std::size_t result) const;
    [[nodiscard]] const std::vector<std::string>& model_sheets() const { return model_sheets_; }
    struct Place {
        std::uint16_t sheet = 0;
        std::uint32_t row = 0;
    };
    [[nodiscard]] Place place(uncertainty::Node node) const { return node_places_.at(node.index); }
    [[nodiscard]] Place helper_place(std::size_t call) const { return call_places_.at(call); }
    /// First off-diagonal covariance row and heading row of each group on the sheet of groups.
    [[nodiscard]] std::uint32_t group_row(std::size_t group) const { return group_rows_.at(group); }
    /// Pairs of members of a group whose covariance is not 0.
    struct Pair {
        std::size_t a = 0, b = 0;
        double covariance = 0;
    };
    [[nodiscard]] const std::vector<Pair>& pairs(std::size_t group) const { return group_pairs_.at(group); }
    [[nodiscard]] std::vector<std::string>& sheet_names() { return sheet_names_; }
    /// Where the first reading of a set stands.
    [[nodiscard]] std::string first_reading(std::size_t set) const;
    /// Numbers that recipes take as they are, one a name, on the sheet of coverage factors.
    [[nodiscard]] const std::vector<model::Recipe::Operand>& factors() const { return factors_; }
    [[nodiscard]] std::string factor_cell(const std::string& name) const;
    /// First row behind the table of limits, where the masks begin.
    [[nodiscard]] std::uint32_t mask_row(std::size_t limit) const { return mask_rows_.at(limit); }

private:
    void place_readings();
    void place_groups();
    void place_nodes();
    void place_budgets();
    void place_limits();
    void place_factors();
    const model::Dossier& dossier_;
    const uncertainty::Graph& graph_;
    std::uint32_t rows_of_a_sheet_;
    std::vector<std::string> sheet_names_, model_sheets_;
    std::vector<ReadingSheets> readings_;
    std::vector<std::size_t> reading_of_run_;
    std::vector<uncertainty::Node> nodes_;
    std::unordered_map<std::uint32_t, Place> node_places_;
    std::vector<Place> call_places_;
    std::vector<uncertainty::CellPlan> plans_;
    std::vector<std::uint32_t> group_rows_, mask_rows_;
    std::vector<model::Recipe::Operand> factors_;
    std::vector<std::vector<Pair>> group_pairs_;
    std::vector<BudgetBlock> budgets_;
    std::vector<std::int32_t> budget_of_result_;
};

/// Budgets are live for as many results as this many lines allow, results that limits judge first; the others
/// keep their standard uncertainty as a stored number. A workbook beyond that is slow to open.
inline constexpr std::size_t most_budget_lines = 150'000;

}  // namespace luxdossier::workbook
