#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include <algorithm>

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

// Remarks of several runs that say and advise the same become one row, with what was seen in the first ones.
std::vector<model::Remark> alike(const std::vector<model::Remark>& remarks)
{
    constexpr std::size_t most_shown = 3;
    struct Group {
        model::Remark remark;
        std::vector<std::string> seen, runs;
    };
    std::vector<Group> groups;
    for (const auto& remark : remarks) {
        const auto same = std::ranges::find_if(groups, [&](const Group& group) {
            return group.remark.id == remark.id && group.remark.severity == remark.severity &&
                   group.remark.effect == remark.effect && group.remark.advice == remark.advice &&
                   group.remark.accepted == remark.accepted;
        });
        if (same == groups.end()) {
            groups.push_back({remark, {remark.seen}, {remark.run}});
            continue;
        }
        same->remark.results.insert(same->remark.results.end(), remark.results.begin(), remark.results.end());
        same->seen.push_back(remark.seen);
        if (std::ranges::find(same->runs, remark.run) == same->runs.end())
            same->runs.push_back(remark.run);
    }
    std::vector<model::Remark> told;
    for (auto& group : groups) {
        const std::size_t more = group.seen.size() - std::min(group.seen.size(), most_shown);
        group.seen.resize(group.seen.size() - more);
        group.remark.seen = fmt::format("{}", fmt::join(group.seen, "; "));
        if (more > 0)
            group.remark.seen += fmt::format("; and {} more in the record", more);
        if (group.runs.size() > most_shown)
            group.remark.run = fmt::format("{} and {} more", group.runs.front(), group.runs.size() - 1);
        else
            group.remark.run = fmt::format("{}", fmt::join(group.runs, ", "));
        std::ranges::sort(group.remark.results);
        const auto repeated = std::ranges::unique(group.remark.results);
        group.remark.results.erase(repeated.begin(), repeated.end());
        told.push_back(std::move(group.remark));
    }
    return told;
}

}  // namespace

Blocks remarks(const model::Dossier& dossier)
{
    if (dossier.remarks.empty())
        return {Paragraph{plain("The data raise no remark on bench practice.")}};
    Table table;
    table.caption = plain("What the data say about bench practice");
    table.columns = {column("Remark"), column("Severity"), column("Seen", Alignment::left, 2),
                     column("What it does to the results", Alignment::left, 2),
                     column("What to do", Alignment::left, 2)};
    for (const auto& remark : alike(dossier.remarks)) {
        Text name = styled(remark.id, Style::semibold);
        if (!remark.run.empty())
            append(name, styled(fmt::format(" (run {})", remark.run), Style::grey));
        std::string severity(model::severity_text(remark.severity));
        if (!remark.accepted.empty())
            severity += ", accepted";
        std::string effect = remark.effect;
        if (!remark.results.empty())
            effect += fmt::format("{}touches {}", effect.empty() ? "" : "; ",
                                  counted(remark.results.size(), "result"));
        Row row;
        row.cells = {cell(std::move(name)), cell(severity), cell(remark.seen), cell(effect),
                     cell(remark.advice)};
        table.rows.push_back(std::move(row));
    }
    return {std::move(table)};
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
