#include "workbook/sheets.hpp"

#include "uncertainty/formula.hpp"
#include "workbook/plan_text.hpp"

#include <fmt/format.h>

namespace luxdossier::workbook {

using uncertainty::Node;
using uncertainty::Operation;

namespace {

const std::string too_long = "formula longer than a cell holds";

/// Rows of one estimator call: its heading and its helper cells.
void write_call(Book& book, Sheet& sheet, std::uint32_t row, std::size_t call)
{
    const auto& graph = book.dossier.evaluation.graph;
    const auto& plan = book.map.plans()[call];
    sheet.text({row, 0}, std::string(graph.calls()[call].estimator->name()), Look::strong);
    if (plan.stored)
        return;
    std::vector<double> inputs;
    for (const auto argument : graph.calls()[call].arguments)
        inputs.push_back(graph.value(argument));
    const auto values = plan_values(plan, inputs).value();
    for (std::size_t i = 0; i < plan.cells.size(); ++i) {
        const auto at = row + 1 + static_cast<std::uint32_t>(i);
        sheet.text({at, 0}, plan.cells[i].label);
        if (is_stored_helper(plan.cells[i])) {
            book.number(sheet, {at, column::node_value}, nullptr, values[i], "converged weight of a line");
            sheet.text({at, 1}, "stored");
            continue;
        }
        sheet.formula({at, column::node_value}, plan_formula(graph, book.map, call, plan.cells[i].formula),
                      values[i]);
    }
}

std::string node_label(const uncertainty::Graph& graph, Node node)
{
    if (const auto name = graph.name(node); !name.empty())
        return std::string(name);
    const auto& operand = graph.operations()[node.index];
    if (operand.operation != Operation::estimate) {
        constexpr std::size_t longest = 60;
        auto text = uncertainty::printed_formula(graph, node, 0);
        return text.size() > longest ? std::string{} : text;
    }
    return graph.calls()[operand.left].estimator->output_name(operand.right);
}

void write_node(Book& book, Sheet& sheet, std::uint32_t row, Node node)
{
    const auto& graph = book.dossier.evaluation.graph;
    const auto& operand = graph.operations()[node.index];
    sheet.text({row, 0}, node_label(graph, node));
    const Position value{row, column::node_value};
    if (operand.operation == Operation::estimate) {
        const auto& plan = book.map.plans()[operand.left];
        if (plan.stored) {
            book.number(sheet, value, nullptr, graph.value(node), plan.stored_reason);
            sheet.text({row, 1}, "stored");
            sheet.text({row, 4}, plan.stored_reason);
        } else {
            sheet.formula(value, book.map.helper_cell(operand.left, plan.outputs.at(operand.right)),
                          graph.value(node));
        }
    } else {
        const auto formula = uncertainty::spreadsheet_formula(
            graph, node, [&](Node used) { return book.map.value(used).text; });
        sheet.formula(value, formula, graph.value(node));
    }
    const auto beside = book.derivatives.beside_nodes().find(node.index);
    if (beside != book.derivatives.beside_nodes().end())
        sheet.formula({row, column::node_derivative}, beside->second.text, beside->second.value);
}

}  // namespace

void write_model(Book& book)
{
    const auto& graph = book.dossier.evaluation.graph;
    std::vector<Sheet*> sheets;
    for (const auto& name : book.map.model_sheets()) {
        auto& sheet = book.xlsx.sheet(name);
        sheet.title("Measurement model",
                    "One row for each step of the calculation; inputs stand on the sheet of that name. "
                    "Click a value to see what it is computed from.",
                    ways());
        sheet.headings(heading_row, {{"quantity", false, 34},
                                     {"live or stored", false, 10},
                                     {"value", true, 14},
                                     {"derivative of the step that uses it", true, 18},
                                     {"reason of a stored value"}});
        sheets.push_back(&sheet);
    }
    std::vector<bool> call_written(graph.calls().size(), false);
    for (const auto node : book.map.nodes()) {
        const auto& operand = graph.operations()[node.index];
        if (operand.operation == Operation::estimate && !call_written[operand.left]) {
            call_written[operand.left] = true;
            const auto place = book.map.helper_place(operand.left);
            write_call(book, *sheets.at(place.sheet), place.row, operand.left);
        }
        const auto place = book.map.place(node);
        write_node(book, *sheets.at(place.sheet), place.row, node);
    }
}

void write_derivatives(Book& book)
{
    auto& sheet = book.xlsx.sheet("derivatives");
    sheet.title("Derivatives",
                "Steps that several results share: how each moves with its inputs and with the steps before "
                "it. The budgets are made of these cells.",
                ways());
    sheet.headings(heading_row, {{"derivative of", false, 26},
                                 {"with respect to", false, 58},
                                 {"value", true, 14},
                                 {"live or stored", false, 10},
                                 {"reason"}});
    auto row = first_row;
    const auto& graph = book.dossier.evaluation.graph;
    for (const auto& derivative : book.derivatives.rows()) {
        const auto name = node_label(graph, derivative.of);
        sheet.text({row, 0}, name.empty() ? book.map.node_cell(derivative.of, column::node_value) : name);
        sheet.text({row, 1}, derivative.with_respect_to);
        const Position value{row, column::derivative_value};
        if (derivative.stored) {
            book.number(sheet, value, nullptr, derivative.formula.value, derivative.reason);
            sheet.text({row, 3}, "stored");
            sheet.text({row, 4}, derivative.reason);
        } else {
            sheet.formula(value, derivative.formula.text, derivative.formula.value);
        }
        ++row;
    }
}

}  // namespace luxdossier::workbook
