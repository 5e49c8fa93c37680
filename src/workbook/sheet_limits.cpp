#include "workbook/sheets.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

constexpr double applies_width = 56, reference_width = 40;

std::string selector_text(const model::Selector& selector)
{
    if (!selector.ids.empty()) {
        std::string list;
        for (const auto& id : selector.ids)
            list += (list.empty() ? "" : " or ") + id;
        // What a configuration or a source is called needs no word before it.
        return selector.name == "configuration" || selector.name == "source" || selector.name == "sample"
                   ? list
                   : fmt::format("{} {}", selector.name, list);
    }
    if (selector.from && selector.to && *selector.from == *selector.to)
        return fmt::format("{} {}", selector.name, *selector.from);
    return fmt::format("{} {} to {}", selector.name,
                       selector.from ? fmt::format("{}", *selector.from) : "...",
                       selector.to ? fmt::format("{}", *selector.to) : "...");
}

std::string selection_text(const model::Limit& limit)
{
    std::string text;
    for (const auto& selector : limit.where)
        text += (text.empty() ? "" : "; ") + selector_text(selector);
    return text;
}

/// A name for the cells of a limit: "limit_L_07_lower". Ids that differ only in their signs share one: no
/// name then.
std::string cell_label(const model::Limits& limits, std::size_t index, const char* what)
{
    const auto plain = [](std::string id) {
        std::ranges::replace_if(
            id, [](char c) { return c == '-'; }, '_');
        return id;
    };
    const auto id = plain(limits.limits[index].id);
    const auto lower = [](std::string text) {
        std::ranges::transform(text, text.begin(),
                               [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
        return text;
    };
    for (std::size_t other = 0; other < limits.limits.size(); ++other)
        if (other != index && lower(plain(limits.limits[other].id)) == lower(id))
            return {};
    return fmt::format("limit_{}_{}", id, what);
}

void write_bound(Book& book, Sheet& sheet, std::size_t index, Position position, std::optional<double> bound,
                 const char* what)
{
    if (!bound) {
        sheet.text(position, " ", Look::editable);
        return;
    }
    sheet.number(position, *bound, Look::editable);
    if (const auto name = cell_label(*book.dossier.limits, index, what); !name.empty())
        book.xlsx.define_name(name, absolute_reference("limits", position));
}

/// Worst outcome of the limit's verdicts, which stand one below the other.
void write_outcome(Book& book, Sheet& sheet, std::size_t index, Position position)
{
    const auto& verdicts = book.dossier.verdicts;
    const auto first = std::ranges::find(verdicts.verdicts, index, &model::Verdict::limit);
    const auto last = std::ranges::find(verdicts.verdicts.rbegin(), verdicts.verdicts.rend(), index,
                                        &model::Verdict::limit);
    if (first == verdicts.verdicts.end() || !verdicts.by_limit.at(index)) {
        sheet.text(position, "not assessed", Look::after);
        return;
    }
    const auto rank = [&](auto iterator) {
        return Position{first_row + static_cast<std::uint32_t>(iterator - verdicts.verdicts.begin()),
                        column::verdict_rank};
    };
    sheet.formula(position,
                  fmt::format("INDEX(guide!$D${}:$D${},MAX({}))", cells::outcome_order_first.row + 1,
                              cells::outcome_order_last.row + 1,
                              range_reference("verdicts", rank(first), rank(last.base() - 1))),
                  model::outcome_text(*verdicts.by_limit[index]), Look::after);
}

void write_limit(Book& book, Sheet& sheet, std::size_t index)
{
    const auto& limit = book.dossier.limits->limits[index];
    const auto row = first_row + 1 + static_cast<std::uint32_t>(index);
    const auto applies = selection_text(limit);
    sheet.row_lines(row,
                    std::max(Sheet::lines_of(applies, applies_width),
                             Sheet::lines_of(limit.not_assessed.value_or(limit.reference), reference_width)));
    const auto& verdicts = book.dossier.verdicts.verdicts;
    const auto first = std::ranges::find(verdicts, index, &model::Verdict::limit);
    if (first == verdicts.end())
        sheet.text({row, 0}, limit.id, Look::strong);
    else
        sheet.link({row, 0}, book.map.verdict_cell(static_cast<std::size_t>(first - verdicts.begin()), 0),
                   limit.id);
    sheet.text({row, 1}, limit.clause, Look::wrapped);
    sheet.text({row, 2}, limit.title.empty() ? metric_title(book.dossier, limit.metric) : limit.title,
               Look::wrapped);
    sheet.text({row, 3}, applies, Look::wrapped);
    if (limit.not_assessed) {
        sheet.text({row, column::limit_outcome}, "not assessed", Look::after);
        sheet.text({row, 13}, *limit.not_assessed, Look::wrapped);
        return;
    }
    if (limit.plus_minus) {
        const auto& compound = *limit.plus_minus;
        sheet.text({row, 6}, "lx", Look::after);
        sheet.number({row, column::limit_percent}, compound.fraction_of_level.value_or(0) * 100,
                     Look::editable);
        sheet.number({row, column::limit_fixed}, compound.fixed_lx.value_or(0), Look::editable);
        sheet.text({row, column::limit_combine}, compound.greater ? "greater" : "sum", Look::editable);
        sheet.choice({row, column::limit_combine}, {row, column::limit_combine}, {"sum", "greater"});
    } else if (limit.mask) {
        sheet.text({row, column::limit_lower}, "mask below");
        sheet.text({row, 6}, limit.unit, Look::after);
    } else {
        write_bound(book, sheet, index, {row, column::limit_lower}, limit.lower, "lower");
        write_bound(book, sheet, index, {row, column::limit_upper}, limit.upper, "upper");
        sheet.text({row, 6}, limit.unit, Look::after);
    }
    const auto& rule = limit.rule.value_or(book.dossier.limits->rule);
    const Position rule_at{row, column::limit_rule}, multiple_at{row, column::limit_multiple};
    if (limit.rule) {
        sheet.text(rule_at, model::rule_text(rule.kind), Look::editable);
        sheet.number(multiple_at, rule.guard_band_multiple, Look::editable);
    } else {
        sheet.formula(rule_at, absolute_reference("limits", cells::default_rule), model::rule_text(rule.kind),
                      Look::editable);
        sheet.formula(multiple_at, absolute_reference("limits", cells::default_multiple),
                      rule.guard_band_multiple, Look::editable);
    }
    write_outcome(book, sheet, index, {row, column::limit_outcome});
    sheet.text({row, 13}, limit.reference, Look::wrapped);
}

void write_mask(Sheet& sheet, std::uint32_t row, const model::Limit& limit)
{
    sheet.text({row, 0}, fmt::format("mask of {}", limit.id), Look::strong);
    sheet.text({row, 3}, "angle / degree", Look::number_heading);
    sheet.text({row, column::limit_lower}, "lower", Look::number_heading);
    sheet.text({row, column::limit_upper}, "upper", Look::number_heading);
    const auto& mask = *limit.mask;
    for (std::size_t i = 0; i < mask.angle_degree.size(); ++i) {
        const auto at = row + 1 + static_cast<std::uint32_t>(i);
        sheet.number({at, 3}, mask.angle_degree[i], Look::plain);
        if (std::isfinite(mask.lower[i]))
            sheet.number({at, column::limit_lower}, mask.lower[i], Look::editable);
        if (std::isfinite(mask.upper[i]))
            sheet.number({at, column::limit_upper}, mask.upper[i], Look::editable);
    }
}

}  // namespace

void write_limits(Book& book)
{
    auto& sheet = book.xlsx.sheet("limits");
    sheet.title(
        "Limits",
        "Cells in a frame may be changed: bounds, decision rule, guard-band multiple. Verdicts, worst "
        "outcomes and charts follow when the workbook is calculated.",
        ways());
    sheet.headings(heading_row, {{"limit", false, 11},
                                 {"clause", false, 8},
                                 {"quantity", false, 44},
                                 {"applies to", false, applies_width},
                                 {"lower", true, 10},
                                 {"upper", true, 10},
                                 {"unit", false, 8},
                                 {"+- % of the level", true, 10},
                                 {"+- fixed / lx", true, 9},
                                 {"combined by", false, 10},
                                 {"decision rule", false, 19},
                                 {"guard-band multiple", true, 11},
                                 {"worst outcome", false, 16},
                                 {"reference", false, reference_width}});
    if (!book.dossier.limits) {
        sheet.text({first_row, 0}, "no limits were given: a report of measurements without verdicts");
        return;
    }
    const auto& limits = *book.dossier.limits;
    sheet.text({first_row, 0}, "whole file", Look::strong);
    sheet.text({first_row, 2}, limits.title);
    sheet.text(cells::default_rule, model::rule_text(limits.rule.kind), Look::editable);
    sheet.number(cells::default_multiple, limits.rule.guard_band_multiple, Look::editable);
    for (std::size_t index = 0; index < limits.limits.size(); ++index)
        write_limit(book, sheet, index);
    for (std::size_t index = 0; index < limits.limits.size(); ++index)
        if (limits.limits[index].mask)
            write_mask(sheet, book.map.mask_row(index), limits.limits[index]);
    const auto last = first_row + static_cast<std::uint32_t>(limits.limits.size());
    std::vector<std::string> rules;
    for (const auto kind : {model::RuleKind::simple_acceptance, model::RuleKind::guarded_acceptance,
                            model::RuleKind::four_outcome})
        rules.emplace_back(model::rule_text(kind));
    sheet.choice(cells::default_rule, {last, column::limit_rule}, rules);
    sheet.at_least_zero(cells::default_multiple, {last, column::limit_multiple});
    sheet.outcomes({first_row, column::limit_outcome}, {last, column::limit_outcome});
    book.xlsx.define_name("decision_rule", absolute_reference("limits", cells::default_rule));
    book.xlsx.define_name("guard_band_multiple", absolute_reference("limits", cells::default_multiple));
}

}  // namespace luxdossier::workbook
