#include "practice/practice.hpp"

#include "practice/rules.hpp"

#include <algorithm>
#include <array>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::practice {
namespace {

using model::Remark;
using model::RemarkSeverity;

/// Place of a remark in the table of rules; unknown ones come last.
std::size_t place_of(std::string_view id)
{
    return static_cast<std::size_t>(std::ranges::find(rules(), id, &Rule::id) - rules().begin());
}

/// Remarks that say the same of several series; notes are told once for all runs, others once a run.
bool are_one(const Remark& a, const Remark& b)
{
    return a.id == b.id && a.severity == b.severity && a.effect == b.effect && a.advice == b.advice &&
           (a.run == b.run || a.severity == RemarkSeverity::note);
}

/// What one remark says of several series is told once, with what was seen.
std::vector<Remark> merged(std::vector<Remark> remarks)
{
    constexpr std::size_t told_whole = 3;
    std::vector<Remark> found;
    std::vector<std::size_t> told;
    for (auto& remark : remarks) {
        const auto same =
            std::ranges::find_if(found, [&](const Remark& other) { return are_one(other, remark); });
        if (same == found.end()) {
            found.push_back(std::move(remark));
            told.push_back(1);
            continue;
        }
        auto& count = told[static_cast<std::size_t>(same - found.begin())];
        if (++count <= told_whole)
            same->seen += "; " + remark.seen;
        add_results(same->results, remark.results);
        if (same->run != remark.run)
            same->run.clear();
    }
    for (std::size_t index = 0; index < found.size(); ++index) {
        auto& results = found[index].results;
        std::ranges::sort(results);
        const auto repeated = std::ranges::unique(results);
        results.erase(repeated.begin(), repeated.end());
        if (told[index] > told_whole)
            found[index].seen += fmt::format("; and {} more", told[index] - told_whole);
    }
    return found;
}

void accept(std::vector<Remark>& remarks, const std::vector<model::AcceptedRemark>& accepted)
{
    for (auto& remark : remarks) {
        const auto found = std::ranges::find_if(accepted, [&](const model::AcceptedRemark& candidate) {
            return candidate.remark == remark.id && (candidate.run.empty() || candidate.run == remark.run);
        });
        if (found != accepted.end())
            remark.accepted = found->reason;
    }
}

/// Results that a blocking remark touches are not decided; the first reason stays.
void block(const std::vector<Remark>& remarks, std::vector<model::Result>& results)
{
    for (const auto& remark : remarks) {
        if (remark.severity != RemarkSeverity::blocks || !remark.accepted.empty())
            continue;
        for (const auto index : remark.results)
            if (auto& result = results.at(index); result.undecided.empty())
                result.undecided = fmt::format("{}: {}", remark.id, remark.seen);
    }
}

}  // namespace

std::span<const Rule> rules()
{
    // Remarks without a function are raised by the evaluation, which knows more of them.
    static constexpr auto table = std::to_array<Rule>({
        {"ambient-light", ambient_light, true},
        {"ambient-unstated"},
        {"own-light", own_light, true},
        {"dark-missing", dark_missing},
        {"dark-moved", dark_moved},
        {"not-co-located", not_co_located},
        {"uneven-field", uneven_field},
        {"not-warmed-up", not_warmed_up},
        {"not-settled", not_settled},
        {"trend", trend},
        {"ripple", ripple, true},
        {"certificate-recall-passed", certificate_recall_passed},
        {"outside-span"},
        {"chain-incomplete", chain_incomplete},
        {"all-common"},
        {"left-out"},
        {"spectral-mismatch", spectral_mismatch},
        {"few-readings", few_readings},
        {"incomplete-rows"},
        {"not-pooled"},
        {"saturated", saturated},
        {"coarse-resolution", coarse_resolution, true},
        {"resolution-from-data"},
        {"coarse-scan", coarse_scan},
        {"zero-angle", zero_angle},
        {"stray-light", stray_light},
        {"wide-source", wide_source},
        {"too-near", too_near},
        {"meter-temperature", meter_temperature},
        {"outlier", outlier},
        {"few-samples", few_samples},
        {"near-infrared-leak", near_infrared_leak},
        {"window-differs", window_differs},
        {"competing-set"},
        {"range-not-covered", range_not_covered, true},
        {"limits-after-data", limits_after_data, true},
    });
    return table;
}

Findings examine(const model::Qualification& qualification, const model::Limits* limits,
                 model::Evaluation& evaluation)
{
    Findings findings;
    findings.remarks = evaluation.remarks;
    Bench bench(qualification, limits, evaluation);
    for (const auto& rule : rules()) {
        if (rule.needs_limits && limits == nullptr)
            findings.rules_not_applied.emplace_back(rule.id);
        if (rule.apply != nullptr)
            rule.apply(bench);
    }
    std::ranges::move(merged(bench.take_remarks()), std::back_inserter(findings.remarks));
    std::ranges::stable_sort(findings.remarks, {}, [](const Remark& remark) { return place_of(remark.id); });
    accept(findings.remarks, qualification.accepted_remarks);
    block(findings.remarks, evaluation.results);
    return findings;
}

}  // namespace luxdossier::practice
