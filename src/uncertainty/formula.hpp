#pragma once

#include "uncertainty/graph.hpp"

#include <functional>
#include <map>
#include <string>

namespace luxdossier::uncertainty {

/// The model of a result as text: infix, named nodes are printed by name and explained once
/// ("E = (R - R0) C A L K; C = c0 + ..."). Inputs print their symbol, estimators "name(a, b ...).output".
/// `depth` named nodes deep; 0 prints the top formula only. Where several quantities have one name, as the
/// readings at two levels, they are numbered in the order in which they stand: "(D_1 - D_2)/(E_1 - E_2)".
[[nodiscard]] std::string printed_formula(const Graph& graph, Node result, int depth = 1);

/// The symbols of inputs that printed_formula() numbers.
[[nodiscard]] std::map<Input, std::string> symbols_apart(const Graph& graph, Node result, int depth = 1);

/// The spreadsheet formula of one node, without the leading "=": each operand is replaced by what `cell_of`
/// gives for it (a reference such as "Model!$C$12"). For an input or estimate node there is no formula: empty
/// text.
[[nodiscard]] std::string spreadsheet_formula(const Graph& graph, Node node,
                                              const std::function<std::string(Node)>& cell_of);

/// Shortest text that reads back exactly, without locale, as a spreadsheet and JSON accept it.
[[nodiscard]] std::string exact_text(double value);

}  // namespace luxdossier::uncertainty
