#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <functional>
#include <set>
#include <tuple>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

std::string rows_text(const std::vector<std::size_t>& rows)
{
    std::string text;
    for (std::size_t i = 0; i < rows.size(); ++i) {
        std::size_t end = i;
        while (end + 1 < rows.size() && rows[end + 1] == rows[end] + 1)
            ++end;
        text += text.empty() ? "" : ", ";
        text += end == i ? fmt::format("{}", rows[i]) : fmt::format("{} to {}", rows[i], rows[end]);
        i = end;
    }
    return text;
}

std::string runs_text(const std::vector<std::string>& runs)
{
    constexpr std::size_t most_named = 6;
    std::vector<std::string> named;
    for (const auto& run : runs) {
        if (!run.empty())
            named.push_back(run);
    }
    if (named.size() <= most_named)
        return joined(named);
    const std::size_t more = named.size() - most_named + 1;
    named.resize(most_named - 1);
    named.push_back(fmt::format("{} more", more));
    return joined(named);
}

// What was seen, the same told once; the first few where it was seen often.
Text seen_text(const std::vector<std::string>& seen)
{
    constexpr std::size_t most_shown = 4;
    std::vector<std::string> shown;
    for (const auto& one : seen) {
        if (std::ranges::find(shown, one) == shown.end())
            shown.push_back(one);
    }
    const std::size_t more = shown.size() - std::min(shown.size(), most_shown);
    shown.resize(shown.size() - more);
    std::string text = fmt::format("{}", fmt::join(shown, "; "));
    if (more > 0)
        text += fmt::format("; and {} more in the record", more);
    return plain(text);
}

// "10 results: Reading error (4), Linearity (6)", each title a link to its chapter.
Text touched_text(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    if (results.empty())
        return plain("no result");
    Text text = plain(counted(results.size(), "result") + ": ");
    bool first = true;
    for (const auto& family : dossier.families) {
        const auto own = results_of(dossier, family);
        const auto count = std::ranges::count_if(
            results, [&](std::size_t index) { return std::ranges::binary_search(own, index); });
        if (count == 0)
            continue;
        if (!first)
            append(text, plain(", "));
        first = false;
        text.push_back({family.title, Style::plain, anchor_of("chapter", family.id)});
        append(text, plain(fmt::format(" ({})", number_text(static_cast<double>(count), 0))));
    }
    return text;
}

// Every limit that judges a touched result, each a link to its verdicts.
Text touched_limits(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    Text text;
    if (!dossier.limits)
        return text;
    std::vector<std::size_t> limits;
    for (const auto& verdict : dossier.verdicts.verdicts) {
        if (verdict.result && std::ranges::binary_search(results, *verdict.result) &&
            (limits.empty() || limits.back() != verdict.limit))
            limits.push_back(verdict.limit);
    }
    for (const auto limit : limits) {
        const auto& id = dossier.limits->limits.at(limit).id;
        append(text, plain(text.empty() ? "" : ", "));
        text.push_back({id, Style::plain, anchor_of("limit", id)});
    }
    return text;
}

std::string summary(const std::vector<RemarkGroup>& groups)
{
    const auto count = [&](model::RemarkSeverity severity) {
        return static_cast<std::size_t>(std::ranges::count(groups, severity, &RemarkGroup::severity));
    };
    const auto blocking = static_cast<std::size_t>(std::ranges::count_if(groups, [](const auto& group) {
        return group.severity == model::RemarkSeverity::blocks && group.accepted.empty();
    }));
    const auto accepted = static_cast<std::size_t>(
        std::ranges::count_if(groups, [](const auto& group) { return !group.accepted.empty(); }));
    std::string text =
        fmt::format("The data raise {}: {} that {} (results they touch are not decided), {} "
                    "and {}",
                    counted(groups.size(), "remark"), blocking, blocking == 1 ? "blocks" : "block",
                    counted(count(model::RemarkSeverity::concern), "concern"),
                    counted(count(model::RemarkSeverity::note), "note"));
    if (accepted > 0)
        text += fmt::format("; {} accepted by the laboratory",
                            accepted == 1 ? "1 is" : fmt::format("{} are", accepted));
    return text + ".";
}

}  // namespace

std::vector<RemarkGroup> remark_groups(const model::Dossier& dossier)
{
    std::vector<RemarkGroup> groups;
    for (const auto& remark : dossier.remarks) {
        const auto same = std::ranges::find_if(groups, [&](const RemarkGroup& group) {
            return group.id == remark.id && group.severity == remark.severity &&
                   group.effect == remark.effect && group.advice == remark.advice &&
                   group.accepted == remark.accepted;
        });
        auto& group = same == groups.end()
                          ? groups.emplace_back(RemarkGroup{remark.id, remark.severity, remark.effect,
                                                            remark.advice, remark.accepted})
                          : *same;
        group.seen.push_back(remark.seen);
        if (std::ranges::find(group.runs, remark.run) == group.runs.end())
            group.runs.push_back(remark.run);
        group.results.insert(group.results.end(), remark.results.begin(), remark.results.end());
    }
    std::ranges::stable_sort(groups, std::greater(), &RemarkGroup::severity);
    for (std::size_t i = 0; i < groups.size(); ++i) {
        auto& group = groups[i];
        std::ranges::sort(group.results);
        const auto repeated = std::ranges::unique(group.results);
        group.results.erase(repeated.begin(), repeated.end());
        group.anchor = anchor_of("remark", fmt::format("{}-{}", i + 1, group.id));
    }
    return groups;
}

Blocks remarks(const model::Dossier& dossier)
{
    const auto groups = remark_groups(dossier);
    if (groups.empty())
        return {Paragraph{plain("The data raise no remark on bench practice.")}};
    Blocks blocks{Paragraph{styled(summary(groups), Style::semibold), false, true}};
    for (const auto& group : groups) {
        Text title =
            plain(fmt::format("{}: {}", capitalised(model::severity_text(group.severity)), group.id));
        if (!group.accepted.empty())
            append(title, plain(", accepted"));
        blocks.push_back(Heading{3, std::move(title), group.anchor});
        Facts facts;
        facts.facts.push_back({"Seen", seen_text(group.seen)});
        if (const auto runs = runs_text(group.runs); !runs.empty())
            facts.facts.push_back({"In runs", plain(runs)});
        facts.facts.push_back({"What it does", plain(group.effect)});
        facts.facts.push_back({"What to do", plain(group.advice)});
        facts.facts.push_back({"Touches", touched_text(dossier, group.results)});
        facts.facts.push_back({"Limits", touched_limits(dossier, group.results)});
        facts.facts.push_back({"Accepted", plain(group.accepted)});
        blocks.push_back(std::move(facts));
    }
    return blocks;
}

Blocks remarks_on(const model::Dossier& dossier, const std::vector<std::size_t>& results)
{
    Text text;
    std::set<std::tuple<std::string, model::RemarkSeverity, bool>> told;
    for (const auto& group : remark_groups(dossier)) {
        const bool touches = std::ranges::any_of(
            group.results, [&](std::size_t index) { return std::ranges::binary_search(results, index); });
        if (!touches)
            continue;
        // Remarks that differ in what was seen alone are named once.
        if (!told.insert({group.id, group.severity, !group.accepted.empty()}).second)
            continue;
        append(text, plain(text.empty() ? "Remarks that touch these results: " : ", "));
        text.push_back({group.id, Style::semibold, group.anchor});
        append(text, plain(fmt::format(" ({}{})", model::severity_text(group.severity),
                                       group.accepted.empty() ? "" : ", accepted")));
    }
    if (text.empty())
        return {};
    append(text, plain("."));
    return {Paragraph{std::move(text)}};
}

Blocks accepted_remarks(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("Remarks accepted by the laboratory");
    table.columns = {column("Remark"), column("Run"), column("Reason", Alignment::left, 2)};
    for (const auto& accepted : dossier.qualification.accepted_remarks) {
        Row row;
        row.cells = {cell(accepted.remark), cell(accepted.run.empty() ? "all" : accepted.run),
                     cell(accepted.reason)};
        table.rows.push_back(std::move(row));
    }
    if (table.rows.empty())
        return {};
    return {std::move(table)};
}

Blocks rules_not_applied(const model::Dossier& dossier)
{
    if (dossier.rules_not_applied.empty())
        return {};
    return {Paragraph{
        plain(fmt::format("Not applied, because they need limits: {}.", joined(dossier.rules_not_applied)))}};
}

Blocks exclusions(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("Readings left out");
    table.columns = {column("Run"), column("Data rows"), column("Reason", Alignment::left, 2)};
    for (const auto& exclusion : dossier.qualification.exclusions) {
        Row row;
        row.cells = {cell(exclusion.run), cell(rows_text(exclusion.rows)), cell(exclusion.reason)};
        table.rows.push_back(std::move(row));
    }
    // A line that begins with # was left out without anybody saying why.
    for (const auto* run : dossier.qualification.stated_runs()) {
        for (const auto& file : run->files) {
            if (file.comment_lines.empty())
                continue;
            Row row;
            const std::vector<std::size_t> lines(file.comment_lines.begin(), file.comment_lines.end());
            row.cells = {cell(run->id), cell(fmt::format("{}, line {}", file.file, rows_text(lines))),
                         cell("no reason is stated: the line begins with #")};
            table.rows.push_back(std::move(row));
        }
    }
    if (table.rows.empty())
        return {Paragraph{plain("No reading was left out.")}};
    return {std::move(table)};
}

Blocks concessions(const model::Dossier& dossier)
{
    std::vector<Text> items;
    for (const auto& concession : dossier.qualification.concessions) {
        Text text = styled(concession.reference, Style::semibold);
        append(text, plain(fmt::format(", for {}: {}", concession.applies_to, concession.text)));
        items.push_back(std::move(text));
    }
    if (items.empty())
        return {};
    return {Paragraph{plain("The customer granted what follows; it changes no outcome in this report.")},
            Bullets{std::move(items)}};
}

Blocks opinions(const model::Dossier& dossier)
{
    std::vector<Text> items;
    for (const auto& opinion : dossier.qualification.opinions) {
        Text text = plain(opinion.text);
        append(text, styled(fmt::format(" ({}; basis: {})", opinion.by_role, opinion.basis), Style::grey));
        items.push_back(std::move(text));
    }
    if (items.empty())
        return {};
    return {Paragraph{plain("Opinions and interpretations, apart from results and statements of conformity "
                            "(ISO/IEC 17025:2017, 7.8.7):")},
            Bullets{std::move(items)}};
}

}  // namespace luxdossier::report
