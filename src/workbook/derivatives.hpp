#pragma once

#include "workbook/cell_map.hpp"

#include <map>
#include <unordered_map>

namespace luxdossier::workbook {

/// One cell of the sheet "derivatives".
struct DerivativeRow {
    uncertainty::Node of;  ///< the node that is derived
    std::string with_respect_to;
    Term formula;  ///< empty text: the number is stored
    bool stored = false;
    std::string reason;  ///< why it is stored
};

/// Sensitivity coefficients of the results as formulas.
///
/// The graph is cut at *stages*: results, outputs of estimators, their arguments, and every node that more
/// than one node uses. Between stages lie trees: each of their nodes has one user, so that one cell beside
/// the node (the derivative of the stage with respect to it, by the chain rule) serves all. A stage then has
/// one cell for each input upstream: the sum over what it uses of local derivative times that one's own
/// cells. Results share the cells of the stages that they share, so the size grows with the budgets' lines,
/// not with results times nodes.
class Derivatives {
public:
    Derivatives(const model::Dossier& dossier, const CellMap& map);

    /// Cells beside the nodes: node index -> formula.
    [[nodiscard]] const std::unordered_map<std::uint32_t, Term>& beside_nodes() const
    {
        return beside_nodes_;
    }
    [[nodiscard]] const std::vector<DerivativeRow>& rows() const { return rows_; }
    struct Sensitivity {
        Term formula;
        bool rests_on_stored = false;
    };
    /// Of a result with a live budget, one for each of its budget lines, in their order.
    [[nodiscard]] const std::vector<Sensitivity>& of_budget(std::size_t budget) const
    {
        return budgets_.at(budget);
    }

private:
    /// d(stage)/d(input) for each input upstream, sorted by input.
    using Gradient = std::map<std::uint32_t, Sensitivity>;
    struct Uses {
        std::vector<Term> terms;
    };

    void find_stages();
    void derive_tree(uncertainty::Node stage);
    void derive_call(std::size_t call, const std::vector<uncertainty::Node>& outputs);
    void collect(uncertainty::Node stage, const std::map<std::uint32_t, std::vector<Term>>& inputs,
                 const std::vector<std::pair<uncertainty::Node, Sensitivity>>& stages);
    void settle(uncertainty::Node stage, std::map<std::uint32_t, std::vector<Term>> terms,
                const std::map<std::uint32_t, bool>& stored);
    Term cell(DerivativeRow row);
    Term shortened(uncertainty::Node of, std::vector<Term> terms, std::size_t room);
    [[nodiscard]] std::string label(uncertainty::Node node) const;

    const model::Dossier& dossier_;
    const uncertainty::Graph& graph_;
    const CellMap& map_;
    std::vector<bool> needed_, stage_;
    std::unordered_map<std::uint32_t, Term> beside_nodes_;
    std::vector<DerivativeRow> rows_;
    std::unordered_map<std::uint32_t, Gradient> gradients_;
    std::unordered_map<std::uint32_t, std::vector<std::size_t>> budgets_of_node_;
    std::vector<std::vector<Sensitivity>> budgets_;
};

}  // namespace luxdossier::workbook
