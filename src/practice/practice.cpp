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

/// Remarks that say the same of several series: notes are told once for all runs, others once a run unless
/// the table says otherwise.
bool are_one(const Remark& a, const Remark& b)
{
    if (a.id != b.id || a.severity != b.severity || a.effect != b.effect || a.advice != b.advice)
        return false;
    const auto place = place_of(a.id);
    const bool once =
        a.severity == RemarkSeverity::note || (place < rules().size() && rules()[place].told_once);
    return a.run == b.run || (once && a.severity != RemarkSeverity::blocks);
}

/// Remarks that are told as one.
struct Told {
    Remark remark;                                          ///< the first of them, with the results of all
    std::vector<std::pair<std::string, std::string>> seen;  ///< run, what was seen
};

/// What was seen of several subjects in the same words.
struct Sight {
    std::string words;                  ///< behind the subject
    std::vector<std::string> subjects;  ///< "S1 bare (run led-bare-S1)"
};

Sight sight_of(const Told& told, const std::string& run, const std::string& seen)
{
    const auto colon = seen.find(": ");
    const std::string where =
        told.remark.run.empty() && !run.empty() ? fmt::format(" (run {})", run) : std::string{};
    if (colon == std::string::npos)
        return {seen + where, {""}};
    return {seen.substr(colon + 2), {seen.substr(0, colon) + where}};
}

/// What was seen, with the runs where there are several; subjects that share all the words are listed before
/// them.
std::string text_of(const Told& told)
{
    constexpr std::size_t told_whole = 3;
    std::vector<Sight> sights;
    for (const auto& [run, seen] : told.seen) {
        auto sight = sight_of(told, run, seen);
        const auto same = std::ranges::find(sights, sight.words, &Sight::words);
        if (same == sights.end())
            sights.push_back(std::move(sight));
        else
            same->subjects.push_back(sight.subjects.front());
    }
    // Each outlier is flagged, whatever the length: ISO 5725-2 asks for it.
    const bool each = told.remark.id == "outlier";
    std::string text;
    std::size_t said = 0;
    for (std::size_t index = 0; index < sights.size() && (each || index < told_whole); ++index) {
        auto subjects = sights[index].subjects;
        said += subjects.size();
        if (const auto more = subjects.size() - std::min(subjects.size(), told_whole); more > 0 && !each) {
            subjects.resize(told_whole);
            subjects.back() += fmt::format(" and {} more", more);
        }
        const bool named = !subjects.front().empty();
        text += fmt::format("{}{}{}{}", index == 0 ? "" : "; ",
                            named ? fmt::to_string(fmt::join(subjects, ", ")) : "", named ? ": " : "",
                            sights[index].words);
    }
    if (said < told.seen.size())
        text += fmt::format("; and {} more", told.seen.size() - said);
    return text;
}

/// What one remark says of several series is told once, with what was seen.
std::vector<Remark> merged(std::vector<Remark> remarks)
{
    std::vector<Told> all;
    for (auto& remark : remarks) {
        auto same = std::ranges::find_if(all, [&](const Told& told) { return are_one(told.remark, remark); });
        if (same == all.end()) {
            all.push_back({remark, {{remark.run, remark.seen}}});
            continue;
        }
        same->seen.emplace_back(remark.run, remark.seen);
        add_results(same->remark.results, remark.results);
        if (same->remark.run != remark.run)
            same->remark.run.clear();
    }
    std::vector<Remark> found;
    for (auto& told : all) {
        told.remark.seen = text_of(told);
        auto& results = told.remark.results;
        std::ranges::sort(results);
        const auto repeated = std::ranges::unique(results);
        results.erase(repeated.begin(), repeated.end());
        found.push_back(std::move(told.remark));
    }
    return found;
}

void accept(std::vector<Remark>& remarks, const model::Qualification& qualification)
{
    for (auto& remark : remarks)
        if (const auto* acceptance = qualification.acceptance(remark.id, remark.run))
            remark.accepted = acceptance->reason;
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
        {"dark-of-another", dark_of_another},
        {"not-co-located", not_co_located},
        {"uneven-field", uneven_field},
        {"not-warmed-up", not_warmed_up},
        {"not-settled", not_settled},
        {"trend", trend},
        {"ripple", ripple, true},
        {"certificate-recall-passed", certificate_recall_passed},
        {"out-of-recall", out_of_recall},
        {"outside-span"},
        {"chain-incomplete", chain_incomplete},
        {"all-common"},
        {"left-out"},
        {"spectral-mismatch", spectral_mismatch},
        {"few-readings", few_readings},
        {"alike-neighbours", alike_neighbours},
        {"incomplete-rows"},
        {"not-pooled"},
        {"nominal-differs", nominal_differs},
        {"join-doubtful", join_doubtful},
        {"comment-row", comment_row},
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
        {"competing-set", nullptr, false, true},
        {"environment-missing", environment_missing},
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
    std::ranges::move(bench.take_remarks(), std::back_inserter(findings.remarks));
    findings.remarks = merged(std::move(findings.remarks));
    std::ranges::stable_sort(findings.remarks, {}, [](const Remark& remark) { return place_of(remark.id); });
    accept(findings.remarks, qualification);
    block(findings.remarks, evaluation.results);
    return findings;
}

}  // namespace luxdossier::practice
