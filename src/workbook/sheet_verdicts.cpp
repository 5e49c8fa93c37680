#include "workbook/sheets.hpp"

#include "workbook/decision.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

using model::Verdict;

constexpr std::uint16_t at_value = 5, at_expanded = 6, at_lower = 7, at_upper = 8, at_guard_lower = 9,
                        at_guard_upper = 10, at_acceptance_lower = 11, at_acceptance_upper = 12,
                        at_margin = 13, at_probability = 14, at_capability = 15, at_reason = 16,
                        at_status = 17, at_z_lower = 19, at_z_upper = 20, at_before_bound = 21;
constexpr int probability_decimals = 4;
constexpr const char* none_word = "none";
constexpr const char* decided_by_program = "verdict decided by the program";
constexpr const char* undecided_by_program = "figures beside a verdict that the program left undecided";

class VerdictWriter {
public:
    VerdictWriter(Book& book, Sheet& sheet, std::size_t index)
        : book_(book), sheet_(sheet), verdict_(book.dossier.verdicts.verdicts[index]),
          limit_(book.dossier.limits->limits[verdict_.limit]),
          row_(first_row + static_cast<std::uint32_t>(index))
    {
    }

    void write()
    {
        sheet_.link({row_, 0}, book_.map.limit_cell(verdict_.limit, 0), limit_.id);
        sheet_.text({row_, 1}, limit_.clause);
        if (verdict_.result)
            sheet_.link({row_, 2}, book_.map.result_cell(*verdict_.result, 0),
                        result_text(book_.dossier, book_.dossier.evaluation.results[*verdict_.result]));
        else
            sheet_.text({row_, 2}, verdict_.expected);
        sheet_.text({row_, 3}, verdict_.unit);
        sheet_.text({row_, at_reason}, model::reason_text(verdict_));
        write_rank();
        if (lives())
            write_live();
        else
            write_stored();
    }

private:
    [[nodiscard]] std::string at(std::uint16_t column) const { return cell_name({row_, column}); }
    [[nodiscard]] std::string limit_at(std::uint16_t column) const
    {
        return book_.map.limit_cell(verdict_.limit, column);
    }
    [[nodiscard]] model::DecisionRule rule() const
    {
        return limit_.rule.value_or(book_.dossier.limits->rule);
    }

    /// The formulas decide as the program did: only then do they stand in the sheet.
    [[nodiscard]] bool lives() const
    {
        if (!verdict_.result || !verdict_.value || !result().value)
            return false;
        if (!result().undecided.empty() ||
            result().combined.has_value() != verdict_.expanded_uncertainty.has_value())
            return false;
        const auto again = decision();
        return again.outcome == verdict_.outcome && same(again.acceptance_lower, verdict_.acceptance_lower) &&
               same(again.acceptance_upper, verdict_.acceptance_upper) && same(again.margin, verdict_.margin);
    }

    [[nodiscard]] const model::Result& result() const
    {
        return book_.dossier.evaluation.results[*verdict_.result];
    }
    [[nodiscard]] Decision decision() const
    {
        return decide({*verdict_.value, verdict_.expanded_uncertainty, verdict_.tolerance_lower,
                       verdict_.tolerance_upper, result().upper_bound, width(true), width(false)},
                      rule());
    }

    /// How far an interval of trials reaches below or above the value, in the unit of the limit.
    [[nodiscard]] std::optional<double> width(bool below) const
    {
        if (!result().is_judged_by_trials)
            return std::nullopt;
        const auto reach = result().reach().value();
        const bool is_reversed = uncertainty_scale() < 0;
        return (below != is_reversed ? reach.below : reach.above) / std::abs(uncertainty_scale());
    }
    /// The same as a formula: the value and the stored end of the interval.
    [[nodiscard]] std::string width_formula(bool below) const
    {
        if (!result().is_judged_by_trials)
            return at(at_expanded);
        const bool is_reversed = uncertainty_scale() < 0;
        const auto cell = [&](std::uint16_t column) {
            return book_.map.result_cell(*verdict_.result, column);
        };
        const auto value = cell(column::result_value);
        const auto length = below != is_reversed ? fmt::format("({}-{})", value, cell(column::result_from))
                                                 : fmt::format("({}-{})", cell(column::result_to), value);
        const double scale = std::abs(uncertainty_scale());
        return scale == 1 ? length : fmt::format("({}/{})", length, scale);
    }

    [[nodiscard]] bool same(std::optional<double> a, std::optional<double> b) const
    {
        const double scale = std::abs(*verdict_.value) + verdict_.expanded_uncertainty.value_or(0);
        return a.has_value() == b.has_value() &&
               (!a || std::abs(*a - *b) <= 1e-9 * std::max({std::abs(*a), std::abs(*b), scale}));
    }

    void write_rank()
    {
        sheet_.formula({row_, column::verdict_rank},
                       fmt::format("MATCH({},guide!$D${}:$D${},0)", at(column::verdict_outcome),
                                   cells::outcome_order_first.row + 1, cells::outcome_order_last.row + 1),
                       static_cast<double>(verdict_.outcome) + 1, Look::whole);
    }

    void write_stored()
    {
        // Where there is nothing to decide on, the words are no number that could follow.
        const bool no_result = verdict_.outcome == model::Outcome::not_decided;
        if (no_result)
            sheet_.text({row_, column::verdict_outcome}, model::outcome_text(verdict_.outcome));
        else
            book_.store(sheet_, {row_, column::verdict_outcome}, model::outcome_text(verdict_.outcome),
                        decided_by_program);
        const auto put = [&](std::uint16_t column, std::optional<double> value) {
            if (value)
                book_.store(sheet_, {row_, column}, *value,
                            no_result ? undecided_by_program : decided_by_program);
        };
        put(at_value, verdict_.value);
        put(at_expanded, verdict_.expanded_uncertainty);
        put(at_lower, verdict_.tolerance_lower);
        put(at_upper, verdict_.tolerance_upper);
        put(at_guard_lower, verdict_.guard_lower);
        put(at_guard_upper, verdict_.guard_upper);
        put(at_acceptance_lower, verdict_.acceptance_lower);
        put(at_acceptance_upper, verdict_.acceptance_upper);
        put(at_margin, verdict_.margin);
        put(at_probability, verdict_.conformance_probability);
        put(at_capability, verdict_.capability);
        sheet_.text({row_, at_status}, no_result ? "not decided by the program" : "stored");
    }

    void formula_or_none(std::uint16_t column, const std::string& formula, std::optional<double> value)
    {
        const bool of_value = column >= at_guard_lower && column <= at_margin;
        // A bound looks as it was stated; a percentage of a level has any number of digits.
        const bool is_stated = (column == at_lower || column == at_upper) && !limit_.plus_minus;
        if (value)
            sheet_.formula({row_, column}, formula, *value,
                           of_value ? look_ : (is_stated ? Look::plain : Look::number));
        else
            sheet_.formula({row_, column}, formula, none_word);
    }

    void write_live()
    {
        const auto scale = uncertainty_scale();
        const auto value = book_.map.result_cell(*verdict_.result, column::result_value);
        const auto expanded = book_.map.result_cell(*verdict_.result, column::result_expanded);
        const auto scaled = [&](const std::string& cell, bool shift) {
            auto text = cell;
            if (shift && offset() != 0)
                text = fmt::format("({}-({}))", text, offset());
            return scale == 1 ? text : fmt::format("{}/{}", text, scale);
        };
        write_outcome();
        look_ = beside(verdict_.expanded_uncertainty.value_or(0));
        sheet_.formula({row_, at_value}, scaled(value, true), *verdict_.value, look_);
        if (verdict_.expanded_uncertainty)
            sheet_.formula({row_, at_expanded}, scaled(expanded, false), *verdict_.expanded_uncertainty,
                           look_);
        else
            sheet_.text({row_, at_expanded}, none_word);
        write_tolerance();
        const auto again = decision();
        const auto none = quoted(none_word);
        // Without an uncertainty there is an acceptance interval only where no guard band is asked for.
        const auto guard = [&](bool below) {
            return fmt::format("IF(OR({0}={1},{2}=0),0,IF(ISNUMBER({3}),{2}*{5},{4}))",
                               limit_at(column::limit_rule),
                               quoted(model::rule_text(model::RuleKind::simple_acceptance)),
                               limit_at(column::limit_multiple), at(at_expanded), none, width_formula(below));
        };
        const bool has_guard =
            again.acceptance_lower || again.acceptance_upper || verdict_.expanded_uncertainty;
        const auto has = [&](double width) { return has_guard ? std::optional(width) : std::nullopt; };
        formula_or_none(at_guard_lower, guard(true), has(again.guard_lower));
        formula_or_none(at_guard_upper, guard(false), has(again.guard_upper));
        formula_or_none(
            at_acceptance_lower,
            fmt::format("IF(COUNT({0},{1})=2,{0}+{1},{2})", at(at_lower), at(at_guard_lower), none),
            again.acceptance_lower);
        formula_or_none(
            at_acceptance_upper,
            fmt::format("IF(COUNT({0},{1})=2,{0}-{1},{2})", at(at_upper), at(at_guard_upper), none),
            again.acceptance_upper);
        formula_or_none(at_margin,
                        fmt::format("IF(COUNT({0},{1})=0,{3},MIN(IF(ISNUMBER({0}),{2}-{0},1E+300),IF("
                                    "ISNUMBER({1}),{1}-{2},1E+300)))",
                                    at(at_acceptance_lower), at(at_acceptance_upper), at(at_value), none),
                        again.margin);
        write_probability();
        write_relative_margin(again.margin);
        sheet_.text({row_, at_status}, "live");
    }

    [[nodiscard]] double uncertainty_scale() const { return limit_.plus_minus ? 1 : limit_.unit_scale; }
    [[nodiscard]] double offset() const { return limit_.plus_minus ? 0 : limit_.unit_offset; }

    /// "Within the tolerance moved outward by a width", as conformity decides it: on a limit, to 1e-9 of the
    /// larger of value, limit and tolerance limit, is inside.
    [[nodiscard]] std::string inside(const std::string& less, const std::string& more) const
    {
        return fmt::format("AND(IF(ISNUMBER({0}),{1}>={0}{2}-1E-9*MAX(ABS({1}),ABS({0}{2}),ABS({0})),TRUE),"
                           "IF(ISNUMBER({3}),{1}<={3}{4}+1E-9*MAX(ABS({1}),ABS({3}{4}),ABS({3})),TRUE))",
                           at(at_lower), at(at_value), less, at(at_upper), more);
    }

    void write_outcome()
    {
        const auto rule_is = [&](model::RuleKind kind) {
            return fmt::format("{}={}", limit_at(column::limit_rule), quoted(model::rule_text(kind)));
        };
        const auto tolerated = inside("", "");
        std::string formula;
        if (verdict_.expanded_uncertainty) {
            const auto width = [&](const char* sign, std::uint16_t column) { return sign + at(column); };
            const auto accepted = inside(width("+", at_guard_lower), width("-", at_guard_upper));
            const auto within_guard = inside(width("-", at_guard_lower), width("+", at_guard_upper));
            const auto empty = fmt::format(
                "IF(COUNT({0},{1})=2,{0}>{1}+1E-9*MAX(ABS({0}),ABS({1}),ABS({2}),ABS({3})),FALSE)",
                at(at_acceptance_lower), at(at_acceptance_upper), at(at_lower), at(at_upper));
            formula = fmt::format(
                "IF({0},IF({3},\"not decided\",\"fail\"),IF({1},\"pass\",IF({4},IF({2},\"conditional pass\","
                "IF({3},\"conditional fail\",\"fail\")),\"fail\")))",
                empty, accepted, tolerated, within_guard, rule_is(model::RuleKind::four_outcome));
        } else {
            formula =
                fmt::format("IF({0},IF(OR({1},{2}=0),\"pass\",\"not "
                            "decided\"),IF(OR({1},{2}=0,{3}),\"fail\",\"not decided\"))",
                            tolerated, rule_is(model::RuleKind::simple_acceptance),
                            limit_at(column::limit_multiple), rule_is(model::RuleKind::guarded_acceptance));
        }
        const Position position{row_, column::verdict_outcome};
        if (!result().upper_bound) {
            sheet_.formula(position, formula, model::outcome_text(verdict_.outcome));
            return;
        }
        // Of an upper bound only what holds for every smaller value stands.
        const Judged unbounded{*verdict_.value,
                               verdict_.expanded_uncertainty,
                               verdict_.tolerance_lower,
                               verdict_.tolerance_upper,
                               false,
                               width(true),
                               width(false)};
        sheet_.formula({row_, at_before_bound}, formula,
                       model::outcome_text(decide(unbounded, rule()).outcome));
        sheet_.formula(position,
                       fmt::format("IF(AND({0}=\"pass\",NOT(ISNUMBER({1}))),\"pass\",IF(AND({0}=\"fail\","
                                   "IF(ISNUMBER({1}),{2}<{1},FALSE)),\"fail\",\"not decided\"))",
                                   at(at_before_bound), at(at_lower), at(at_value)),
                       model::outcome_text(verdict_.outcome));
    }

    void write_tolerance()
    {
        if (limit_.plus_minus) {
            const auto level = level_text();
            const auto percent = fmt::format("{}/100*{}", limit_at(column::limit_percent), level),
                       fixed = limit_at(column::limit_fixed);
            const auto half = fmt::format("IF({0}=\"greater\",MAX({1},{2}),{1}+{2})",
                                          limit_at(column::limit_combine), percent, fixed);
            formula_or_none(at_lower, "-" + half, verdict_.tolerance_lower);
            formula_or_none(at_upper, half, verdict_.tolerance_upper);
        } else if (limit_.mask) {
            write_mask_bound(at_lower, column::limit_lower, limit_.mask->lower, verdict_.tolerance_lower);
            write_mask_bound(at_upper, column::limit_upper, limit_.mask->upper, verdict_.tolerance_upper);
        } else {
            const auto bound = [&](std::uint16_t column) {
                return fmt::format("IF(ISNUMBER({0}),{0},{1})", limit_at(column), quoted(none_word));
            };
            formula_or_none(at_lower, bound(column::limit_lower), verdict_.tolerance_lower);
            formula_or_none(at_upper, bound(column::limit_upper), verdict_.tolerance_upper);
        }
    }

    /// The evaluated illuminance: the cell of its result where there is one, else the number.
    [[nodiscard]] std::string level_text() const
    {
        const auto& results = book_.dossier.evaluation.results;
        const auto& own = results[*verdict_.result];
        const auto found = std::ranges::find_if(results, [&](const model::Result& other) {
            return other.metric == "illuminance" && other.sample == own.sample &&
                   other.conditions == own.conditions && other.value == own.illuminance_lx && other.node;
        });
        if (found == results.end())
            return fmt::format("{}", own.illuminance_lx.value_or(0));
        return book_.map.result_cell(static_cast<std::size_t>(found - results.begin()), column::result_value);
    }

    /// Linear between the two rows of the mask that enclose the angle of the result.
    void write_mask_bound(std::uint16_t column, std::uint16_t limit_column, const std::vector<double>& bounds,
                          std::optional<double> value)
    {
        const auto& angles = limit_.mask->angle_degree;
        const auto& conditions = result().conditions;
        const auto condition = conditions.find("angle");
        if (!value || condition == conditions.end()) {
            formula_or_none(column, quoted(none_word), std::nullopt);
            return;
        }
        const double angle = std::get<model::ConditionQuantity>(condition->second).value;
        const auto top = book_.map.mask_row(verdict_.limit) + 1;
        const auto cell = [&](std::size_t i, std::uint16_t which) {
            return reference("limits", {top + static_cast<std::uint32_t>(i), which});
        };
        for (std::size_t i = 0; i < angles.size(); ++i) {
            if (angles[i] == angle && std::isfinite(bounds[i])) {
                sheet_.formula({row_, column}, cell(i, limit_column), *value);
                return;
            }
            if (i + 1 < angles.size() && angles[i] < angle && angle < angles[i + 1]) {
                sheet_.formula({row_, column},
                               fmt::format("{0}+({1}-{0})*({2}-{3})/({4}-{3})", cell(i, limit_column),
                                           cell(i + 1, limit_column), angle, cell(i, 3), cell(i + 1, 3)),
                               *value);
                return;
            }
        }
        book_.store(sheet_, {row_, column}, *value, "bound of a mask, interpolated by the program");
    }

    /// How far from the acceptance limit, in U: what compares across quantities.
    void write_relative_margin(std::optional<double> margin)
    {
        const double u = verdict_.expanded_uncertainty.value_or(0);
        const auto value = margin && u > 0 ? std::optional(*margin / u) : std::nullopt;
        formula_or_none(column::verdict_relative_margin,
                        fmt::format("IF(COUNT({0},{1})=2,IF({1}>0,{0}/{1},{2}),{2})", at(at_margin),
                                    at(at_expanded), quoted(none_word)),
                        value);
        book_.relative_margins[row_ - first_row] = value;
    }

    void write_probability()
    {
        if (!verdict_.expanded_uncertainty || !verdict_.conformance_probability)
            return;
        if (result().is_judged_by_trials) {
            const std::string reason = "share of the trials of the Monte Carlo method within the tolerance";
            book_.store(sheet_, {row_, at_probability}, *verdict_.conformance_probability, reason);
            if (verdict_.capability)
                book_.store(sheet_, {row_, at_capability}, *verdict_.capability,
                            "standard deviation of the trials of the Monte Carlo method");
            return;
        }
        const double u = *verdict_.expanded_uncertainty / result().combined->coverage_factor;
        if (!(u > 0))
            return;
        const auto u_text = fmt::format("({}/{})", at(at_expanded),
                                        book_.map.result_cell(*verdict_.result, column::result_factor));
        const auto none = quoted(none_word);
        const auto z = [&](std::optional<double> bound) {
            return bound ? std::optional((*bound - *verdict_.value) / u) : std::nullopt;
        };
        formula_or_none(
            at_z_lower,
            fmt::format("IF(ISNUMBER({0}),({0}-{1})/{2},{3})", at(at_lower), at(at_value), u_text, none),
            z(verdict_.tolerance_lower));
        formula_or_none(
            at_z_upper,
            fmt::format("IF(ISNUMBER({0}),({0}-{1})/{2},{3})", at(at_upper), at(at_value), u_text, none),
            z(verdict_.tolerance_upper));
        const auto freedom = book_.map.result_cell(*verdict_.result, column::result_freedom);
        // TDIST loses digits where the degrees of freedom are many: there, the normal distribution of the
        // transformed quantile (Abramowitz and Stegun, 26.7.8).
        const auto below = [&](const std::string& x) {
            return fmt::format(
                "IF(ISNUMBER({1}),IF({1}>1E5,NORMSDIST({0}*(1-1/(4*{1}))/SQRT(1+{0}*{0}/(2*{1}))),"
                "IF({0}>=0,1-TDIST({0},{1},1),TDIST(-{0},{1},1))),NORMSDIST({0}))",
                x, freedom);
        };
        sheet_.formula({row_, at_probability},
                       fmt::format("IF(ISNUMBER({0}),{1},1)-IF(ISNUMBER({2}),{3},0)", at(at_z_upper),
                                   below(at(at_z_upper)), at(at_z_lower), below(at(at_z_lower))),
                       *verdict_.conformance_probability, decimals(probability_decimals));
        formula_or_none(at_capability,
                        fmt::format("IF(COUNT({0},{1})=2,({1}-{0})/(4*{2}),{3})", at(at_lower), at(at_upper),
                                    u_text, none),
                        verdict_.capability);
    }

    Book& book_;
    Sheet& sheet_;
    const Verdict& verdict_;
    const model::Limit& limit_;
    std::uint32_t row_;
    Look look_ = Look::number;
};

}  // namespace

void write_verdicts(Book& book)
{
    auto& sheet = book.xlsx.sheet("verdicts");
    sheet.title(
        "Verdicts",
        "Each limit on each result that it selects, decided from the cells of the sheet limits. Margin: "
        "distance to the nearer acceptance limit, positive inside. Behind column Q stand workings.",
        ways());
    sheet.headings(heading_row, {{"limit", false, 9},
                                 {"clause", false, 8},
                                 {"result"},
                                 {"unit", false, 8},
                                 {"outcome", false, 16},
                                 {"value", true, 10},
                                 {"U", true, 10},
                                 {"tolerance lower", true, 10},
                                 {"tolerance upper", true, 10},
                                 {"guard band lower", true, 10},
                                 {"guard band upper", true, 10},
                                 {"acceptance lower", true, 11},
                                 {"acceptance upper", true, 11},
                                 {"margin", true, 10},
                                 {"conformance probability", true, 12},
                                 {"capability C_m", true, 10},
                                 {"reason, as evaluated", false, 64},
                                 {"live or stored", false, 14},
                                 {"rank of the outcome", true, 9},
                                 {"(lower - value)/u", true, 10},
                                 {"(upper - value)/u", true, 10},
                                 {"outcome if the bound were the value", false, 16},
                                 {"margin/U", true, 10}});
    sheet.print_until(at_reason);
    const auto count = book.dossier.verdicts.verdicts.size();
    book.relative_margins.resize(count);
    for (std::size_t index = 0; index < count; ++index)
        VerdictWriter(book, sheet, index).write();
    if (count > 0)
        sheet.outcomes({first_row, column::verdict_outcome},
                       {first_row + static_cast<std::uint32_t>(count) - 1, column::verdict_outcome});
}

}  // namespace luxdossier::workbook
