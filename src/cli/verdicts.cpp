#include "cli/commands.hpp"
#include "cli/stages.hpp"
#include "cli/terminal.hpp"
#include "record/record.hpp"

#include <cstdio>

#include <fmt/format.h>

namespace luxdossier::cli {

int verdicts(const Options& options)
{
    if (options.needs && options.json)
        throw InputFault("found --needs beside --json, expected one of them: needs are told in words alone\n"
                         "  advice: leave out --json\n");
    Progress progress;
    progress.stage("reading");
    auto inputs = read_or_fail(options.folder, options.limits);
    if (!inputs.limits)
        throw InputFault(fmt::format("found no limits.json in {}, expected limits to judge by\n"
                                     "  advice: name a limits file with --limits\n",
                                     options.folder));
    progress.stage("evaluating");
    const auto dossier = evaluate_inputs(std::move(inputs), !options.no_trials);
    progress.done();
    if (options.needs)
        fmt::print("{}", needs_text(dossier, options.all));
    fmt::print("{}", options.json ? record::write_verdicts(dossier) : verdict_table(dossier, options.all));
    return exit_code_of(dossier.verdicts);
}

}  // namespace luxdossier::cli
