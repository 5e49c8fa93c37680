#include "report/parts.hpp"

#include "report/symbols.hpp"

#include <algorithm>
#include <cctype>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

Blocks contents(const model::Dossier&)
{
    return {Contents{}};
}

Blocks sign_off(const model::Dossier& dossier)
{
    return {SignOffBlock{dossier.qualification.sign_off}};
}

Blocks end_mark(const model::Dossier& dossier)
{
    const auto& document = dossier.qualification.document;
    const std::string number = document.number.empty() ? "" : " " + document.number;
    return {EndMark{fmt::format("End of report{}", number)}};
}

}  // namespace

const std::vector<Part>& parts()
{
    static const std::vector<Part> all{
        {"part", "cover", cover},
        {"part", "contents", contents},
        {"part", "verdict_summary", verdict_summary},
        {"part", "decision_rules", decision_rules},
        {"part", "judged_by_trials", judged_by_trials},
        {"part", "reference_meters", reference_meters},
        {"part", "geometry", geometry},
        {"part", "sampling", sampling},
        {"part", "room", room},
        {"part", "deviations", deviations},
        {"part", "risk_groups", risk_groups},
        {"part", "remarks", remarks},
        {"part", "rules_not_applied", rules_not_applied},
        {"part", "concessions", concessions},
        {"part", "opinions", opinions},
        {"part", "not_stated", not_stated},
        {"part", "supplied_by_customer", supplied_by_customer},
        {"part", "amendment", amendment},
        {"part", "tools", tools},
        {"part", "sign_off", sign_off},
        {"part", "end_mark", end_mark},
        {"table", "verdicts", verdicts_by_clause},
        {"plot", "margins", margins},
        {"table", "needs", needs},
        {"table", "joint", joint_probabilities},
        {"table", "every_verdict", every_verdict},
        {"table", "samples", samples},
        {"table", "configurations", configurations},
        {"table", "sources", sources},
        {"table", "equipment", equipment},
        {"table", "runs", runs},
        {"table", "accepted_remarks", accepted_remarks},
        {"table", "exclusions", exclusions},
        {"table", "evidence", evidence},
    };
    return all;
}

std::string anchor_of(std::string_view prefix, std::string_view id)
{
    std::string anchor(prefix);
    anchor += '-';
    for (const char c : id) {
        if (std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '-')
            anchor += c;
        else
            anchor += fmt::format(".{:02x}", static_cast<unsigned>(static_cast<unsigned char>(c)));
    }
    return anchor;
}

std::vector<std::size_t> results_of(const model::Dossier& dossier, const model::FamilyInfo& family)
{
    std::vector<std::size_t> indices;
    for (std::size_t i = 0; i < dossier.evaluation.results.size(); ++i) {
        const auto& metric = dossier.evaluation.results[i].metric;
        if (std::ranges::find(family.metrics, metric, &model::MetricInfo::id) != family.metrics.end())
            indices.push_back(i);
    }
    return indices;
}

Cell cell(std::string_view text)
{
    return cell(plain(text));
}

Cell cell(Text text)
{
    Cell result;
    result.text = std::move(text);
    return result;
}

ColumnSpec column(std::string_view heading, Alignment alignment, double weight)
{
    return {plain(heading), alignment, weight};
}

}  // namespace luxdossier::report
