#include "cli/commands.hpp"
#include "cli/stages.hpp"
#include "cli/terminal.hpp"
#include "model/deviations.hpp"
#include "record/record.hpp"

#include <algorithm>
#include <cstdio>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

bool blocks(const model::Remark& remark)
{
    return remark.severity == model::RemarkSeverity::blocks && remark.accepted.empty();
}

std::string remark_text(const model::Remark& remark)
{
    auto text = fmt::format("{}: {}{}: {}\n", model::severity_text(remark.severity), remark.id,
                            remark.run.empty() ? "" : " (run " + remark.run + ")", remark.seen);
    if (!remark.effect.empty())
        text += fmt::format("  effect: {}\n", remark.effect);
    if (!remark.advice.empty())
        text += fmt::format("  advice: {}\n", remark.advice);
    if (!remark.accepted.empty())
        text += fmt::format("  accepted: {}\n", remark.accepted);
    return text;
}

/// How the parts of runs were joined, each run once.
std::string joins_text(const model::Qualification& qualification)
{
    std::string text;
    for (const auto* run : qualification.stated_runs())
        if (const auto words = model::join_words(*run); !words.empty())
            text += fmt::format("run {}: {}\n", run->id, words);
    return text.empty() ? text : text + "\n";
}

std::string remarks_text(const model::Dossier& dossier)
{
    auto text = joins_text(dossier.qualification);
    for (const auto& remark : dossier.remarks)
        text += remark_text(remark) + "\n";
    if (!dossier.rules_not_applied.empty())
        text += fmt::format("not applied without limits: {}\n\n", fmt::join(dossier.rules_not_applied, ", "));
    const auto blocking = std::ranges::count_if(dossier.remarks, blocks);
    return text + fmt::format("checked: no faults, {} remark{}, {} of them block{}\n", dossier.remarks.size(),
                              dossier.remarks.size() == 1 ? "" : "s", blocking, blocking == 1 ? "s" : "");
}

}  // namespace

int check(const Options& options)
{
    Progress progress;
    progress.stage("reading");
    diagnostics::Diagnostics faults;
    auto inputs = read_inputs(options.folder, options.limits, faults);
    if (!inputs || faults.has_errors()) {
        progress.done();
        std::string text;
        for (const auto& fault : faults.all())
            text += diagnostics::render(fault);
        if (options.json)
            fmt::print("{}", record::write_check(faults.all(), {}));
        throw InputFault(text);
    }
    progress.stage("evaluating");
    const auto dossier = evaluate_inputs(std::move(*inputs));
    progress.done();
    fmt::print("{}", options.json ? record::write_check(faults.all(), dossier) : remarks_text(dossier));
    return std::ranges::any_of(dossier.remarks, blocks) ? 1 : 0;
}

}  // namespace luxdossier::cli
