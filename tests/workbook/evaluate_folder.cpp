// Evaluates a qualification folder, writes its workbook, and prints results and verdicts as tab-separated
// text: the other side of the comparisons in recalculate_test.py.
//
//     evaluate_folder FOLDER LIMITS|- WORKBOOK|- [ROWS_OF_A_SHEET|trials]

#include "conformity/conformity.hpp"
#include "conformity/trials.hpp"
#include "intake/intake.hpp"
#include "metrics/metrics.hpp"
#include "workbook/workbook.hpp"

#include <chrono>
#include <fstream>
#include <iostream>
#include <sstream>

#include <fmt/format.h>

namespace {

using namespace luxdossier;

std::string content_of(const std::filesystem::path& file)
{
    std::ifstream stream(file, std::ios::binary);
    std::ostringstream content;
    content << stream.rdbuf();
    return content.str();
}

int complain(const diagnostics::Diagnostics& diagnostics)
{
    for (const auto& diagnostic : diagnostics.all())
        std::cerr << diagnostics::render(diagnostic);
    return 2;
}

std::string number(std::optional<double> value)
{
    return value ? fmt::format("{}", *value) : "-";
}

void print(const model::Dossier& dossier)
{
    for (const auto& result : dossier.evaluation.results) {
        const auto& combined = result.combined;
        fmt::print("result\t{}\t{}\t{}\t{}\t{}\n", result.id, number(result.value),
                   combined ? number(combined->standard_uncertainty) : "-",
                   combined ? number(combined->expanded_uncertainty) : "-",
                   result.undecided.empty() ? "" : "undecided");
    }
    for (const auto& verdict : dossier.verdicts.verdicts)
        fmt::print("verdict\t{}\t{}\t{}\t{}\t{}\n", dossier.limits->limits[verdict.limit].id,
                   verdict.result ? dossier.evaluation.results[*verdict.result].id : verdict.expected,
                   model::outcome_text(verdict.outcome), number(verdict.value), number(verdict.margin));
    for (const auto& figure : dossier.figures)
        for (const auto& panel : figure.panels) {
            fmt::print("panel\t{}\t{}\t{}\t{}\n", figure.family, figure.title, panel.title,
                       figure.panels.size());
            for (const auto& series : panel.series)
                fmt::print("series\t{}\n", series.name);
            for (const auto& limit : panel.limits)
                for (const auto& [name, points] :
                     {std::pair("limit", &limit.points), {"acceptance", &limit.acceptance}}) {
                    fmt::print("{}\t{}\t{}", name, limit.id, limit.upper ? "upper" : "lower");
                    for (const auto& point : *points)
                        fmt::print("\t{} {}", number(point.x), number(point.y));
                    fmt::print("\n");
                }
        }
    if (dossier.verdicts.overall)
        fmt::print("overall\t{}\n", model::outcome_text(*dossier.verdicts.overall));
}

}  // namespace

int main(int argc, char** argv)
{
    if (argc != 4 && argc != 5)
        return 2;
    const std::filesystem::path folder = argv[1];
    const std::string limits_name = argv[2], workbook = argv[3], last = argc == 5 ? argv[4] : "";
    diagnostics::Diagnostics diagnostics;
    const auto files = intake::folder_on_disk(folder);
    auto qualification = intake::read_qualification(*files, diagnostics);
    if (!qualification)
        return complain(diagnostics);
    model::Dossier dossier;
    dossier.qualification = std::move(*qualification);
    if (limits_name != "-") {
        std::vector<model::InputFile> read;
        const auto beside = intake::folder_on_disk(std::filesystem::path(limits_name).parent_path());
        dossier.limits = intake::read_limits(limits_name, content_of(limits_name), *beside,
                                             dossier.qualification, metrics::catalogue(), read, diagnostics);
        if (!dossier.limits)
            return complain(diagnostics);
    }
    dossier.evaluation = metrics::evaluate(dossier.qualification);
    std::optional<conformity::Trials> trials;
    if (last == "trials")
        trials =
            conformity::evaluate_by_trials(dossier.qualification, dossier.limits ? &*dossier.limits : nullptr,
                                           dossier.evaluation, conformity::TrialExtent::until_validated);
    dossier.remarks = dossier.evaluation.remarks;
    if (dossier.limits)
        dossier.verdicts = conformity::judge(dossier.qualification, *dossier.limits, metrics::catalogue(),
                                             dossier.evaluation, trials ? &*trials : nullptr);
    for (const auto& family : metrics::families())
        dossier.families.push_back(family.info);
    dossier.figures = metrics::figures(dossier);
    dossier.version = "0.0.0";
    dossier.date = {1.7e9};
    print(dossier);
    if (workbook == "-")
        return 0;
    const auto begin = std::chrono::steady_clock::now();
    if (!last.empty() && !trials)
        workbook::write_workbook(dossier, workbook, static_cast<std::uint32_t>(std::stoul(last)));
    else
        workbook::write_workbook(dossier, workbook);
    const std::chrono::duration<double> seconds = std::chrono::steady_clock::now() - begin;
    std::cerr << fmt::format("workbook written in {:.2f} s, {} bytes\n", seconds.count(),
                             std::filesystem::file_size(workbook));
    return 0;
}
