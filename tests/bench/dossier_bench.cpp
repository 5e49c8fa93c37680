// The stages of a dossier, timed inside one process: budgets/s, pages/s, and the time of the workbook.
// Usage: dossier_bench FOLDER WORKBOOK    (WORKBOOK: where to write it; run.py counts its rows)

#include "cli/stages.hpp"
#include "cli/template_text.hpp"
#include "layout/page.hpp"
#include "pdf/pdf.hpp"
#include "report/document.hpp"
#include "workbook/workbook.hpp"

#include <chrono>
#include <cstdio>
#include <ctime>
#include <filesystem>

#include <fmt/format.h>

using namespace luxdossier;

namespace {

template <typename Stage>
double seconds_of(const Stage& stage)
{
    const auto start = std::chrono::steady_clock::now();
    stage();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

}  // namespace

int main(int argc, char** argv)
{
    if (argc != 3) {
        fmt::print(stderr, "usage: dossier_bench FOLDER WORKBOOK\n");
        return 2;
    }
    auto inputs = cli::read_or_fail(argv[1], "");
    model::Dossier dossier;
    const auto evaluating = seconds_of([&] { dossier = cli::evaluate_inputs(std::move(inputs)); });
    fmt::print("evaluated      {} results in {:.3f} s: {:.0f} results/s\n", dossier.evaluation.results.size(),
               evaluating, static_cast<double>(dossier.evaluation.results.size()) / evaluating);

    std::size_t budgets = 0, lines = 0;
    const auto budgeting = seconds_of([&] {
        for (const auto& result : dossier.evaluation.results) {
            if (!result.node)
                continue;
            lines += dossier.evaluation.budget(result).lines.size();
            ++budgets;
        }
    });
    fmt::print("budgets        {} with {} lines in {:.3f} s: {:.0f} budgets/s\n", budgets, lines, budgeting,
               static_cast<double>(budgets) / budgeting);

    const auto text = cli::read_template("customer").text;
    layout::Pages pages;
    const auto laying_out =
        seconds_of([&] { pages = layout::lay_out(report::compose(dossier, text), dossier); });
    const auto file = std::filesystem::path(argv[2]);
    const auto drawing = seconds_of([&] { pdf::write_pdf(pages, dossier.date, file.string() + ".pdf"); });
    const auto count = static_cast<double>(pages.pages.size());
    fmt::print("pages          {} in {:.3f} s composed and laid out, {:.3f} s drawn: {:.0f} pages/s\n", count,
               laying_out, drawing, count / (laying_out + drawing));

    const auto before = std::clock();
    const auto writing = seconds_of([&] { workbook::write_workbook(dossier, file); });
    const auto cpu = static_cast<double>(std::clock() - before) / CLOCKS_PER_SEC;
    fmt::print("workbook       {:.3f} s, {:.3f} s of CPU, {:.1f} MB\n", writing, cpu,
               static_cast<double>(std::filesystem::file_size(file)) / 1e6);
    return 0;
}
