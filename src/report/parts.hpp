#pragma once

#include "report/document.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::report {

using Blocks = std::vector<Block>;

// What a template can insert. Each part is a function of the dossier; one that has nothing to say gives no
// blocks, and the heading above it is left out.

struct Part {
    std::string_view kind;  ///< "part", "table" or "plot"
    std::string_view name;
    Blocks (*compose)(const model::Dossier&);
};
[[nodiscard]] const std::vector<Part>& parts();

// front_parts.cpp
[[nodiscard]] Blocks cover(const model::Dossier& dossier);
[[nodiscard]] Blocks not_stated(const model::Dossier& dossier);
[[nodiscard]] Blocks supplied_by_customer(const model::Dossier& dossier);
[[nodiscard]] Blocks amendment(const model::Dossier& dossier);
// verdict_parts.cpp
[[nodiscard]] Blocks verdict_summary(const model::Dossier& dossier);
[[nodiscard]] Blocks verdicts_by_clause(const model::Dossier& dossier);
[[nodiscard]] Blocks every_verdict(const model::Dossier& dossier);
[[nodiscard]] Blocks decision_rules(const model::Dossier& dossier);
[[nodiscard]] std::optional<Table> worst_margins(const model::Dossier& dossier, std::size_t count);
// summary_figures.cpp
/// Every limit's worst margin in % of half its tolerance (one-sided: of the limit), worst first.
[[nodiscard]] Blocks margins(const model::Dossier& dossier);
/// Shares of the greatest contributions to a budget; the rest is told in the caption.
[[nodiscard]] model::Figure budget_shares(const model::Dossier& dossier, std::size_t result);
// joint_parts.cpp
/// Which verdicts rest on the interval of the trials, and why; nothing where none does.
[[nodiscard]] Blocks judged_by_trials(const model::Dossier& dossier);
/// That requirements are met together, by sample and in all; nothing where no trials were made.
[[nodiscard]] Blocks joint_probabilities(const model::Dossier& dossier);
// needs_parts.cpp
/// What would have to improve for the results that their guard band alone keeps from passing.
[[nodiscard]] Blocks needs(const model::Dossier& dossier);
// bench_parts.cpp
[[nodiscard]] Blocks samples(const model::Dossier& dossier);
[[nodiscard]] Blocks configurations(const model::Dossier& dossier);
[[nodiscard]] Blocks sources(const model::Dossier& dossier);
[[nodiscard]] Blocks equipment(const model::Dossier& dossier);
[[nodiscard]] Blocks geometry(const model::Dossier& dossier);
[[nodiscard]] Blocks runs(const model::Dossier& dossier);
// laboratory_parts.cpp
[[nodiscard]] Blocks sampling(const model::Dossier& dossier);
[[nodiscard]] Blocks room(const model::Dossier& dossier);
[[nodiscard]] Blocks deviations(const model::Dossier& dossier);
[[nodiscard]] Blocks risk_groups(const model::Dossier& dossier);
/// "risk group 1", "exempt".
[[nodiscard]] std::string risk_group_text(std::string_view group);
// meter_parts.cpp
[[nodiscard]] Blocks reference_meters(const model::Dossier& dossier);
// chapter_parts.cpp
[[nodiscard]] Blocks chapter(const model::Dossier& dossier, const model::FamilyInfo& family);
// result_tables.cpp
[[nodiscard]] Blocks result_tables(const model::Dossier& dossier, const model::FamilyInfo& family);
// budget_parts.cpp
/// What the inputs of a budget are, in the order of its lines; where several are called the same, with what
/// tells them apart: the configuration of their run, the run, or another part of their identity.
[[nodiscard]] std::vector<std::string> quantity_names(const model::Dossier& dossier,
                                                      const std::vector<uncertainty::BudgetLine>& lines);
[[nodiscard]] Blocks budgets(const model::Dossier& dossier, const model::FamilyInfo& family);
// remark_parts.cpp
/// Remarks of several runs that do and advise the same, told as one; the gravest first.
struct RemarkGroup {
    std::string id;
    model::RemarkSeverity severity = model::RemarkSeverity::note;
    std::string effect, advice, accepted;
    std::string anchor = {};
    std::vector<std::string> seen = {}, runs = {};
    std::vector<std::size_t> results = {};  ///< sorted
};
[[nodiscard]] std::vector<RemarkGroup> remark_groups(const model::Dossier& dossier);
/// One line that names the remarks on any of these results, each with a link; nothing where there is none.
[[nodiscard]] Blocks remarks_on(const model::Dossier& dossier, const std::vector<std::size_t>& results);
[[nodiscard]] Blocks remarks(const model::Dossier& dossier);
[[nodiscard]] Blocks accepted_remarks(const model::Dossier& dossier);
[[nodiscard]] Blocks rules_not_applied(const model::Dossier& dossier);
[[nodiscard]] Blocks exclusions(const model::Dossier& dossier);
[[nodiscard]] Blocks concessions(const model::Dossier& dossier);
[[nodiscard]] Blocks opinions(const model::Dossier& dossier);
// evidence_parts.cpp
[[nodiscard]] Blocks evidence(const model::Dossier& dossier);
[[nodiscard]] Blocks tools(const model::Dossier& dossier);

/// An ASCII anchor: prefix and id, every other character replaced by its code.
[[nodiscard]] std::string anchor_of(std::string_view prefix, std::string_view id);
/// Results of a family, as indices into the evaluation.
[[nodiscard]] std::vector<std::size_t> results_of(const model::Dossier& dossier,
                                                  const model::FamilyInfo& family);

// Small helpers for tables.
[[nodiscard]] Cell cell(std::string_view text);
[[nodiscard]] Cell cell(Text text);
[[nodiscard]] ColumnSpec column(std::string_view heading, Alignment alignment = Alignment::left,
                                double weight = 1);

}  // namespace luxdossier::report
