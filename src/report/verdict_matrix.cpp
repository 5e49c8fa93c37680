#include "report/column_parts.hpp"
#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/verdict_phrases.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

constexpr std::size_t fewest_verdicts = 6;  // fewer are as short one by one
constexpr double certain = 0.9995;          // printed "> 99.9"

// Verdicts of one limit in rows of a quantity (level or angle) and columns of what else tells them apart.
struct Matrix {
    std::string quantity, unit;
    std::vector<std::string> columns;
    std::map<double, std::map<std::string, std::size_t>> rows;
};

bool plainly_passes(const model::Verdict& verdict)
{
    return verdict.outcome == model::Outcome::pass && verdict.result && verdict.value && verdict.margin &&
           verdict.reason.empty();
}

std::string quantity_of(const model::Conditions& conditions)
{
    for (const auto* name : {"angle", "level", "plane"}) {
        const auto found = conditions.find(name);
        if (found != conditions.end() && std::holds_alternative<model::ConditionQuantity>(found->second))
            return name;
    }
    return "level";
}

std::optional<Matrix> matrix_of(const model::Dossier& dossier, const std::vector<std::size_t>& verdicts,
                                const std::vector<std::string>& shared)
{
    Matrix matrix;
    for (const auto index : verdicts) {
        const auto& result = dossier.evaluation.results.at(*dossier.verdicts.verdicts[index].result);
        if (matrix.quantity.empty())
            matrix.quantity = quantity_of(result.conditions);
        const auto found = result.conditions.find(matrix.quantity);
        const auto* quantity = found == result.conditions.end()
                                   ? nullptr
                                   : std::get_if<model::ConditionQuantity>(&found->second);
        if (quantity == nullptr)
            return std::nullopt;
        matrix.unit = quantity->unit;
        auto left_out = shared;
        left_out.push_back(matrix.quantity);
        const std::string column = conditions_phrase(result, left_out);
        if (std::ranges::find(matrix.columns, column) == matrix.columns.end())
            matrix.columns.push_back(column);
        if (!matrix.rows[quantity->value].emplace(column, index).second)
            return std::nullopt;
    }
    return matrix;
}

// "−1.4 ± 1.6 (5.0)", units in the heading; the conformance probability where it is not above 99.9 %.
Text matrix_cell(const model::Verdict& verdict)
{
    const auto without_unit = [](model::Verdict bare) {
        bare.unit = std::string(1, '1');
        return bare;
    };
    const auto bare = without_unit(verdict);
    const double probability = verdict.conformance_probability.value_or(1);
    Text text = plain(
        fmt::format("{} ({}{})", verdict_value_text(bare), margin_text(bare),
                    probability > certain ? "" : fmt::format("; {} %", probability_percent(probability))));
    append(text, trials_mark_of(verdict));
    return text;
}

// The first column of each table: as many side by side as fit.
std::vector<std::size_t> table_starts(const model::Dossier& dossier, const Matrix& matrix)
{
    constexpr double page_mm = 170, key_mm = 13, widest_heading_mm = 24;
    std::vector<double> widths;
    for (const auto& column : matrix.columns) {
        DecimalWidth figures;
        for (const auto& [value, cells] : matrix.rows)
            if (const auto found = cells.find(column); found != cells.end())
                figures.add(plain_text(matrix_cell(dossier.verdicts.verdicts[found->second])));
        widths.push_back(column_width_mm(figures, column, widest_heading_mm));
    }
    return column_parts(widths, page_mm - key_mm, widths.size());
}

Table matrix_table(const model::Dossier& dossier, const Matrix& matrix, std::size_t first, std::size_t last)
{
    Table table;
    table.columns.push_back(column(condition_heading(matrix.quantity, matrix.unit), Alignment::decimal));
    for (std::size_t c = first; c < last; ++c)
        table.columns.push_back(
            column(matrix.columns[c].empty() ? "All" : matrix.columns[c], Alignment::decimal));
    for (const auto& [value, cells] : matrix.rows) {
        Row row;
        row.cells.push_back(
            cell(condition_cell(matrix.quantity, model::ConditionQuantity{value, matrix.unit})));
        bool any = false;
        for (std::size_t c = first; c < last; ++c) {
            const auto found = cells.find(matrix.columns[c]);
            any = any || found != cells.end();
            row.cells.push_back(
                cell(found == cells.end() ? Text{} : matrix_cell(dossier.verdicts.verdicts[found->second])));
        }
        if (any)
            table.rows.push_back(std::move(row));
    }
    const bool has_trials = std::ranges::any_of(matrix.rows, [&](const auto& row) {
        return std::ranges::any_of(row.second, [&](const auto& one) {
            return !dossier.verdicts.verdicts[one.second].by_trials.empty();
        });
    });
    if (has_trials && last == matrix.columns.size())
        table.notes.push_back(trials_note());
    return table;
}

}  // namespace

Blocks verdict_matrix(const model::Dossier& dossier, std::size_t limit_index)
{
    const auto verdicts = verdicts_of(dossier, limit_index);
    const bool certain_pass = std::ranges::all_of(
        verdicts, [&](std::size_t index) { return plainly_passes(dossier.verdicts.verdicts[index]); });
    if (verdicts.size() < fewest_verdicts || !certain_pass)
        return {};
    const auto& limit = dossier.limits->limits.at(limit_index);
    const auto shared = shared_conditions(dossier, limit, verdicts);
    const auto matrix = matrix_of(dossier, verdicts, shared.names);
    if (!matrix || matrix->rows.size() < 2)
        return {};
    const auto starts = table_starts(dossier, *matrix);
    Blocks blocks;
    for (std::size_t i = 0; i < starts.size(); ++i) {
        const auto first = starts[i];
        auto table = matrix_table(dossier, *matrix, first,
                                  i + 1 < starts.size() ? starts[i + 1] : matrix->columns.size());
        const std::string unit = unit_text(dossier.verdicts.verdicts[verdicts.front()].unit);
        Text caption = styled(limit.id + "\u2002", Style::semibold);
        append(caption, limit_text(dossier, limit));
        append(caption, plain(fmt::format("{}{}; {} pass", shared.said,
                                          unit.empty() ? "" : fmt::format("; values in {}", unit),
                                          first == 0 ? fmt::format("all {}", verdicts.size()) : "all")));
        table.caption = std::move(caption);
        if (first == 0)
            table.anchor = anchor_of("limit", limit.id);
        blocks.push_back(std::move(table));
    }
    return blocks;
}

}  // namespace luxdossier::report
