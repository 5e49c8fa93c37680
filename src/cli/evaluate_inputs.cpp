#include "cli/stages.hpp"

#include "cli/version.hpp"
#include "conformity/conformity.hpp"
#include "conformity/trials.hpp"
#include "metrics/metrics.hpp"
#include "metrics/stated_models.hpp"
#include "model/numerals.hpp"
#include "practice/practice.hpp"

#include <algorithm>
#include <charconv>
#include <chrono>
#include <cstdlib>
#include <set>
#include <string_view>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

std::vector<model::FamilyInfo> families_with_results(const model::Qualification& qualification,
                                                     const model::Evaluation& evaluation)
{
    std::set<std::string_view> metrics_there;
    for (const auto& result : evaluation.results)
        metrics_there.insert(result.metric);
    std::vector<model::FamilyInfo> families;
    for (const auto& family : metrics::families())
        if (std::ranges::any_of(family.info.metrics,
                                [&](const auto& metric) { return metrics_there.contains(metric.id); }))
            families.push_back(family.info);
    if (!qualification.models.empty())
        families.push_back(metrics::stated_models_info(qualification));
    return families;
}

/// Says in each chapter which of its results are judged by trials, and how many trials were made.
void state_trials(model::Dossier& dossier)
{
    for (const auto& family : dossier.families) {
        std::size_t with_trials = 0, without = 0, judged = 0, most = 0;
        for (const auto& result : dossier.evaluation.results) {
            const bool is_of_family = std::ranges::find(family.metrics, result.metric,
                                                        &model::MetricInfo::id) != family.metrics.end();
            if (!is_of_family || !result.node || !result.combined)
                continue;
            if (!result.monte_carlo) {
                ++without;
                continue;
            }
            ++with_trials;
            judged += result.is_judged_by_trials ? 1U : 0U;
            most = std::max(most, result.monte_carlo->trials);
        }
        const std::size_t unjudged = dossier.evaluation.trials->only_judged ? without : 0;
        if (with_trials == 0 && unjudged > 0)
            dossier.evaluation.statements.push_back(
                {family.id, "Monte Carlo method: no limit judges these results, and they have no trials, as "
                            "the header asks."});
        if (with_trials == 0)
            continue;
        auto text =
            fmt::format("Monte Carlo method (JCGM 101:2008): at most {} trials a result; the first order is "
                        "validated for {} of {} results",
                        model::grouped_digits(std::to_string(most)), with_trials - judged, with_trials);
        if (judged > 0)
            text += "; where it is not, the interval of the trials is judged in its place, and the record "
                    "gives both";
        if (unjudged > 0)
            text += unjudged == 1 ? "; one further result, which no limit judges, has no trials, as the "
                                    "header asks"
                                  : fmt::format("; {} further results, which no limit judges, have no "
                                                "trials, as the header asks",
                                                unjudged);
        dossier.evaluation.statements.push_back({family.id, text + "."});
    }
}

}  // namespace

model::Dossier evaluate_inputs(Inputs inputs, bool with_trials)
{
    model::Dossier dossier;
    dossier.qualification = std::move(inputs.qualification);
    dossier.limits = std::move(inputs.limits);
    with_trials = with_trials && dossier.qualification.evaluation.monte_carlo;
    dossier.evaluation = metrics::evaluate(dossier.qualification);
    auto findings = practice::examine(dossier.qualification, dossier.limits ? &*dossier.limits : nullptr,
                                      dossier.evaluation);
    dossier.remarks = std::move(findings.remarks);
    dossier.rules_not_applied = std::move(findings.rules_not_applied);
    const auto* const limits = dossier.limits ? &*dossier.limits : nullptr;
    std::optional<conformity::Trials> trials;
    if (with_trials) {
        const auto remarks_before = dossier.evaluation.remarks.size();
        trials = conformity::evaluate_by_trials(dossier.qualification, limits, dossier.evaluation,
                                                conformity::TrialExtent::until_validated);
        dossier.remarks.insert(dossier.remarks.end(),
                               dossier.evaluation.remarks.begin() +
                                   static_cast<std::ptrdiff_t>(remarks_before),
                               dossier.evaluation.remarks.end());
    }
    if (limits != nullptr)
        dossier.verdicts =
            conformity::judge(dossier.qualification, *limits, metrics::catalogue(dossier.qualification),
                              dossier.evaluation, trials ? &*trials : nullptr);
    dossier.families = families_with_results(dossier.qualification, dossier.evaluation);
    if (with_trials)
        state_trials(dossier);
    dossier.version = program_version();
    dossier.libraries = library_versions();
    dossier.platform = platform();
    dossier.date = date_of(dossier.qualification);
    return dossier;
}

model::TimePoint date_of(const model::Qualification& qualification)
{
    using namespace std::chrono;
    if (const auto* stated = std::getenv("SOURCE_DATE_EPOCH"); stated != nullptr && *stated != 0) {
        const std::string_view text(stated);
        long long seconds = 0;
        const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), seconds);
        constexpr long long year_9999 = 253402300799;
        if (error != std::errc{} || end != text.data() + text.size() || seconds < 0 || seconds > year_9999)
            throw InputFault(
                fmt::format("SOURCE_DATE_EPOCH is \"{}\", expected seconds since 1970 as digits\n", text));
        return {static_cast<double>(seconds)};
    }
    if (const auto issued = qualification.document.issued)
        return {static_cast<double>(duration_cast<seconds>(issued->time_since_epoch()).count())};
    return {static_cast<double>(duration_cast<seconds>(system_clock::now().time_since_epoch()).count())};
}

int exit_code_of(const model::Verdicts& verdicts)
{
    return verdicts.overall.value_or(model::Outcome::pass) == model::Outcome::pass ? 0 : 1;
}

std::string overall_line(const model::Dossier& dossier)
{
    if (!dossier.limits)
        return "no limits: a measurement report without verdicts";
    const auto& outcomes = dossier.verdicts.by_limit;
    std::string counts;
    for (const auto outcome :
         {model::Outcome::pass, model::Outcome::conditional_pass, model::Outcome::not_decided,
          model::Outcome::conditional_fail, model::Outcome::fail})
        if (const auto count = std::ranges::count(outcomes, std::optional(outcome)); count > 0)
            counts += fmt::format(", {} {}", count, model::outcome_text(outcome));
    if (const auto count = std::ranges::count(outcomes, std::optional<model::Outcome>{}); count > 0)
        counts += fmt::format(", {} not assessed", count);
    const auto overall = dossier.verdicts.overall;
    return fmt::format("overall: {} ({} limit{}{})",
                       overall ? model::outcome_text(*overall) : "nothing assessed", outcomes.size(),
                       outcomes.size() == 1 ? "" : "s", counts);
}

}  // namespace luxdossier::cli
