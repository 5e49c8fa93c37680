#include "workbook/sheets.hpp"

#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

using uncertainty::Input;

// References to the heading of a budget stay relative ("L9", not "L$9"): LibreOffice 7.4 takes like formulas
// below one another for one stretch, calculates it at once, and then sees circles (Err:522) where there are
// none.
constexpr std::uint16_t at_value = 10, at_u = 11, at_freedom = 12;

/// Writes one budget; numbers beside the formulas are computed along with them.
class BudgetWriter {
public:
    BudgetWriter(Book& book, Sheet& sheet, std::size_t index)
        : book_(book), sheet_(sheet), graph_(book.dossier.evaluation.graph),
          block_(book.map.budgets()[index]), sensitivities_(book.derivatives.of_budget(index)),
          u_(cell_name({block_.row, at_u}))
    {
        for (std::size_t line = 0; line < block_.budget.lines.size(); ++line)
            line_of_input_[block_.budget.lines[line].input.index] = line;
    }

    void write()
    {
        write_heading();
        for (std::size_t line = 0; line < block_.budget.lines.size(); ++line)
            write_line(line);
        for (std::size_t group = 0; group < block_.groups.size(); ++group)
            write_group(group);
    }

private:
    struct Correlated {
        std::size_t line = 0;
        std::string covariance;
        double value = 0;
    };

    /// The result, its value, u and degrees of freedom, and the way to its readings.
    void write_heading()
    {
        const auto& result = book_.dossier.evaluation.results[block_.result];
        const auto& combined = result.combined.value();
        if (!result.sets.empty())
            sheet_.link({block_.row, 9}, book_.map.first_reading(result.sets.front()), "readings");
        const auto of_result = [&](std::uint16_t column) {
            return book_.map.result_cell(block_.result, column);
        };
        sheet_.link({block_.row, 0}, of_result(0), result_text(book_.dossier, result));
        sheet_.formula({block_.row, at_value}, of_result(column::result_value), combined.value,
                       beside(combined.standard_uncertainty));
        sheet_.formula({block_.row, at_u}, of_result(column::result_uncertainty),
                       combined.standard_uncertainty);
        const Position freedom{block_.row, at_freedom};
        if (std::isinf(combined.degrees_of_freedom))
            sheet_.formula(freedom, of_result(column::result_freedom), infinite_word);
        else
            sheet_.formula(freedom, of_result(column::result_freedom), combined.degrees_of_freedom,
                           Look::whole);
    }

    [[nodiscard]] const uncertainty::InputQuantity& input(std::size_t line) const
    {
        return graph_.inputs()[block_.budget.lines[line].input.index];
    }

    [[nodiscard]] std::string at(std::size_t line, std::uint16_t column) const
    {
        return cell_name({block_.line_row(line), column});
    }

    [[nodiscard]] double signed_contribution(std::size_t line) const
    {
        return sensitivities_[line].formula.value * input(line).standard_uncertainty;
    }

    /// Lines of the same group whose covariance with this one is not 0.
    [[nodiscard]] std::vector<Correlated> correlated_with(std::size_t line) const
    {
        std::vector<Correlated> result;
        const auto own = block_.budget.lines[line].input;
        const auto group = graph_.group_of(own);
        if (!group)
            return result;
        const auto& members = graph_.groups()[*group].members;
        for (const auto& pair : book_.map.pairs(*group)) {
            const bool first = members[pair.a] == own, second = members[pair.b] == own;
            if (!first && !second)
                continue;
            const auto other = line_of_input_.find(members[first ? pair.b : pair.a].index);
            if (other != line_of_input_.end())
                result.push_back(
                    {other->second, book_.map.covariance(*group, pair.a, pair.b), pair.covariance});
        }
        return result;
    }

    void write_line(std::size_t line)
    {
        const auto row = block_.line_row(line);
        const auto which = block_.budget.lines[line].input;
        const auto& quantity = input(line);
        const auto& sensitivity = sensitivities_[line];
        sheet_.text({row, 0}, quantity.symbol.empty()
                                  ? quantity.quantity
                                  : fmt::format("{}, {}", quantity.symbol, quantity.quantity));
        sheet_.formula({row, column::budget_estimate}, book_.map.estimate(which).text, quantity.estimate);
        sheet_.formula({row, column::budget_uncertainty}, book_.map.uncertainty(which),
                       quantity.standard_uncertainty);
        write_freedom(row, which, quantity.degrees_of_freedom);
        sheet_.formula({row, column::budget_sensitivity}, sensitivity.formula.text,
                       sensitivity.formula.value);
        const double contribution = std::abs(signed_contribution(line));
        sheet_.formula({row, column::budget_contribution},
                       fmt::format("ABS({})*{}", at(line, column::budget_sensitivity),
                                   at(line, column::budget_uncertainty)),
                       contribution);
        write_share(line);
        const bool alone = !graph_.group_of(which);
        if (alone && std::isfinite(quantity.degrees_of_freedom))
            sheet_.formula({row, column::budget_term},
                           fmt::format("{}^4/{}", at(line, column::budget_contribution),
                                       at(line, column::budget_freedom)),
                           std::pow(contribution, 4) / quantity.degrees_of_freedom);
        if (sensitivity.rests_on_stored)
            sheet_.text({row, 9}, "stored derivatives");
    }

    void write_freedom(std::uint32_t row, Input which, double freedom)
    {
        const Position position{row, column::budget_freedom};
        if (std::isfinite(freedom))
            sheet_.formula(position, book_.map.freedom(which), freedom, Look::plain);
    }

    void write_share(std::size_t line)
    {
        const auto own = at(line, column::budget_contribution);
        const auto u = block_.budget.combined.standard_uncertainty;
        std::string numerator = own + "^2";
        double value = std::pow(signed_contribution(line), 2);
        for (const auto& other : correlated_with(line)) {
            numerator += fmt::format("+{}*{}*{}", at(line, column::budget_sensitivity),
                                     at(other.line, column::budget_sensitivity), other.covariance);
            value +=
                sensitivities_[line].formula.value * sensitivities_[other.line].formula.value * other.value;
        }
        const Position position{block_.line_row(line), column::budget_share};
        if (numerator.size() > longest_formula - 64) {
            book_.number(sheet_, position, nullptr, block_.budget.lines[line].share,
                         "share in a large group");
            return;
        }
        const bool alone = numerator.size() == own.size() + 2;
        sheet_.formula(position,
                       alone ? fmt::format("IF({0}=0,0,({1}/{0})^2)", u_, own)
                             : fmt::format("IF({0}=0,0,({1})/{0}^2)", u_, numerator),
                       u > 0 ? value / (u * u) : 0, Look::percent);
    }

    void write_group(std::size_t position)
    {
        const auto group = block_.groups[position];
        const auto row = block_.group_row(position);
        const auto& members = graph_.groups()[group].members;
        sheet_.text({row, 0}, fmt::format("group: {}", graph_.groups()[group].identity), Look::note);
        std::string covariances;
        double covariance = 0;
        for (const auto& pair : book_.map.pairs(group)) {
            const auto a = line_of_input_.find(members[pair.a].index),
                       b = line_of_input_.find(members[pair.b].index);
            if (a == line_of_input_.end() || b == line_of_input_.end())
                continue;
            covariances += fmt::format(
                "{}2*{}*{}*{}", covariances.empty() ? "" : "+", at(a->second, column::budget_sensitivity),
                at(b->second, column::budget_sensitivity), book_.map.covariance(group, pair.a, pair.b));
            covariance += 2 * sensitivities_[a->second].formula.value *
                          sensitivities_[b->second].formula.value * pair.covariance;
        }
        const auto own = cell_name({row, column::budget_covariance});
        if (!covariances.empty())
            sheet_.formula({row, column::budget_covariance}, covariances, covariance);
        const double freedom = graph_.groups()[group].degrees_of_freedom;
        if (!std::isfinite(freedom))
            return;
        sheet_.formula({row, column::budget_freedom}, book_.map.group_freedom(group), freedom, Look::plain);
        std::string squares;
        double variance = covariance;
        for (const auto member : members)
            if (const auto found = line_of_input_.find(member.index); found != line_of_input_.end()) {
                squares += fmt::format("{}{}", squares.empty() ? "" : ",",
                                       at(found->second, column::budget_contribution));
                variance += std::pow(signed_contribution(found->second), 2);
            }
        sheet_.formula({row, column::budget_term},
                       fmt::format("POWER(SUMSQ({}){},2)/{}", squares, covariances.empty() ? "" : "+" + own,
                                   cell_name({row, column::budget_freedom})),
                       std::pow(variance, 2) / freedom);
    }

    Book& book_;
    Sheet& sheet_;
    const uncertainty::Graph& graph_;
    const BudgetBlock& block_;
    const std::vector<Derivatives::Sensitivity>& sensitivities_;
    std::string u_;
    std::map<std::uint32_t, std::size_t> line_of_input_;
};

}  // namespace

void write_budgets(Book& book)
{
    auto& sheet = book.xlsx.sheet("budgets");
    sheet.title("Uncertainty budgets",
                "Largest contribution first. Contribution = |sensitivity| u, in the "
                "unit of the result; shares add up to 1 "
                "and may be negative in a group. Welch-Satterthwaite term = "
                "contribution^4/nu, a group counting once. No degrees of freedom stated: infinite.",
                ways());
    sheet.headings(heading_row, {{"input quantity", false, 56},
                                 {"estimate", true, 12},
                                 {"u", true, 12},
                                 {"degrees of freedom", true, 11},
                                 {"sensitivity coefficient", true, 12},
                                 {"contribution", true, 12},
                                 {"share", true, 9},
                                 {"Welch-Satterthwaite term", true, 14},
                                 {"covariance term", true, 12},
                                 {"sensitivity rests on", false, 18},
                                 {"value of the result", true, 12},
                                 {"u of the result", true, 12},
                                 {"its degrees of freedom", true, 11}});
    for (std::size_t index = 0; index < book.map.budgets().size(); ++index)
        BudgetWriter(book, sheet, index).write();
}

}  // namespace luxdossier::workbook
