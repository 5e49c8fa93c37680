#include "cli/stages.hpp"

#include "cli/version.hpp"
#include "conformity/conformity.hpp"
#include "metrics/metrics.hpp"
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

std::vector<model::FamilyInfo> families_with_results(const model::Evaluation& evaluation)
{
    std::set<std::string_view> metrics_there;
    for (const auto& result : evaluation.results)
        metrics_there.insert(result.metric);
    std::vector<model::FamilyInfo> families;
    for (const auto& family : metrics::families())
        if (std::ranges::any_of(family.info.metrics,
                                [&](const auto& metric) { return metrics_there.contains(metric.id); }))
            families.push_back(family.info);
    return families;
}

}  // namespace

model::Dossier evaluate_inputs(Inputs inputs)
{
    model::Dossier dossier;
    dossier.qualification = std::move(inputs.qualification);
    dossier.limits = std::move(inputs.limits);
    dossier.evaluation = metrics::evaluate(dossier.qualification);
    auto findings = practice::examine(dossier.qualification, dossier.limits ? &*dossier.limits : nullptr,
                                      dossier.evaluation);
    dossier.remarks = std::move(findings.remarks);
    dossier.rules_not_applied = std::move(findings.rules_not_applied);
    if (dossier.limits)
        dossier.verdicts = conformity::judge(dossier.qualification, *dossier.limits, metrics::catalogue(),
                                             dossier.evaluation);
    dossier.families = families_with_results(dossier.evaluation);
    dossier.figures = metrics::figures(dossier);
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
