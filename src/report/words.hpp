#pragma once

#include "report/document.hpp"

#include <optional>
#include <string>
#include <string_view>

namespace luxdossier::report {

// Phrases about results, limits and verdicts: one place for each wording.

[[nodiscard]] const model::MetricInfo* metric_info(const model::Dossier& dossier, std::string_view metric);
/// Title of a metric, or its id with spaces where no family describes it.
[[nodiscard]] std::string metric_title(const model::Dossier& dossier, std::string_view metric);

/// One condition as a reader says it: "led", "100 lx", "plane 90°", "negative side", "% of span".
[[nodiscard]] std::string condition_phrase(std::string_view name, const model::ConditionValue& value);
/// Heading of a column that holds a condition: "Level / lx", "Configuration".
[[nodiscard]] std::string condition_heading(std::string_view name, std::string_view unit);
/// Text of a condition in such a column, without unit.
[[nodiscard]] std::string condition_cell(std::string_view name, const model::ConditionValue& value);
/// Conditions that phrases and tables of results leave out, because they do not tell results apart for a
/// reader.
[[nodiscard]] bool is_secondary(std::string_view name, const model::ConditionValue& value,
                                const model::Conditions& conditions);
/// Sample and conditions of a result, the sample first: "S1, windowed, led, 100 lx".
/// Conditions named in `left_out` are not said.
[[nodiscard]] std::string conditions_phrase(const model::Result& result,
                                            const std::vector<std::string>& left_out = {});

/// The text with a value and its U held on one line: no-break spaces beside "±".
[[nodiscard]] std::string held_together(std::string text);

/// Behind what trials decided; the note below a table says what it means.
inline constexpr std::string_view trials_mark = "†";
[[nodiscard]] Text trials_mark_of(const model::Verdict& verdict);
[[nodiscard]] Text trials_note();

/// "2.96 % ± 0.82 %", "≤ 0.08 lx", or "no value".
/// Half of the interval that is reported stands behind "±".
[[nodiscard]] std::string result_text(const model::Result& result);
/// The same for a verdict, in the limit's unit.
[[nodiscard]] std::string verdict_value_text(const model::Verdict& verdict);
/// Tolerance of a verdict: "−6 % to 6 %", "≥ 54°", "≤ 20 min".
[[nodiscard]] std::string tolerance_text(std::optional<double> lower, std::optional<double> upper,
                                         std::string_view unit);
/// Tolerance at a verdict, computed bounds rounded to the place of U.
[[nodiscard]] std::string verdict_tolerance_text(const model::Verdict& verdict);
/// What a limit asks, without its metric: "±6 %", "±(5 % + 1 lx)", "mask mask.csv along the angle".
[[nodiscard]] std::string requirement_text(const model::Limit& limit);
/// What a limit selects: "bare, led, 100 lx to 10 000 lx".
[[nodiscard]] std::string selection_text(const model::Limit& limit);
/// Margin with its unit, to the place of the expanded uncertainty.
[[nodiscard]] std::string margin_text(const model::Verdict& verdict);
/// The decision rule of a limit in a sentence that names its risk (ILAC-G8:09/2019, 4.2).
[[nodiscard]] std::string rule_sentence(const model::DecisionRule& rule, double coverage_probability);
[[nodiscard]] model::DecisionRule rule_of(const model::Dossier& dossier, const model::Limit& limit);

/// Margin over half the tolerance (two-sided), over the limit's size (one-sided), so that limits compare;
/// absent where the verdict has no margin.
[[nodiscard]] std::optional<double> relative_margin(const model::Verdict& verdict);
/// Indices of the verdicts of one limit.
[[nodiscard]] std::vector<std::size_t> verdicts_of(const model::Dossier& dossier, std::size_t limit);
/// The verdict that speaks for a limit: worst outcome, then least relative margin. Absent: not assessed.
[[nodiscard]] std::optional<std::size_t> worst_verdict(const model::Dossier& dossier,
                                                       const std::vector<std::size_t>& verdicts);
/// Of the verdicts that a guard band alone keeps from passing the one that needs most. Absent: there is none.
[[nodiscard]] std::optional<std::size_t> neediest_verdict(const model::Dossier& dossier, std::size_t limit);
/// What a verdict is about: conditions of its result, or the combination that was expected.
[[nodiscard]] std::string verdict_subject(const model::Dossier& dossier, const model::Verdict& verdict);

/// The strip of a verdict: positions normalised to the tolerance (document.hpp).
[[nodiscard]] StripCell strip_of(const model::Verdict& verdict);

/// "3 limits", "1 limit".
[[nodiscard]] std::string counted(std::size_t count, std::string_view singular, std::string_view plural = {});
[[nodiscard]] std::string capitalised(std::string_view text);
/// "Reading error" within a sentence: "reading error"; names that go on in capitals stay.
[[nodiscard]] std::string uncapitalised(std::string_view text);
/// "a, b and c".
[[nodiscard]] std::string joined(const std::vector<std::string>& items);

}  // namespace luxdossier::report
