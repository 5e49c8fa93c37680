// The stages of a dossier, timed inside one process: budgets/s, pages/s, and the time of the workbook.
// Usage: dossier_bench FOLDER WORKBOOK    (WORKBOOK: where to write it; run.py counts its rows. WORKBOOK.pdf
// and the items of its pages, WORKBOOK.items, stand beside it.)

#include "cli/stages.hpp"
#include "cli/template_text.hpp"
#include "layout/page.hpp"
#include "metrics/metrics.hpp"
#include "pdf/pdf.hpp"
#include "report/document.hpp"
#include "workbook/workbook.hpp"

#include <chrono>
#include <cstdio>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <variant>

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

/// Texts and paths of the pages at their places, one a line, for another program to draw.
void write_items(const layout::Pages& pages, const std::string& file)
{
    std::ofstream out(file);
    for (const auto& page : pages.pages) {
        out << fmt::format("page\t{}\t{}\n", page.width, page.height);
        for (const auto& item : page.items) {
            if (const auto* text = std::get_if<layout::TextItem>(&item)) {
                out << fmt::format("text\t{}\t{}\t{}\t{}\n", text->box.x, text->baseline, text->size_pt,
                                   text->text);
            } else if (const auto* path = std::get_if<layout::PathItem>(&item)) {
                out << fmt::format("path\t{}\t{}", path->line_width_mm, path->filled ? 1 : 0);
                for (const auto& point : path->points)
                    out << fmt::format("\t{}\t{}", point.x, point.y);
                out << '\n';
            }
        }
    }
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

    dossier.figures = metrics::figures(dossier);
    const auto text = cli::read_template("customer").text;
    layout::Pages pages;
    const auto before_pages = std::clock();
    const auto laying_out =
        seconds_of([&] { pages = layout::lay_out(report::compose(dossier, text), dossier); });
    const auto file = std::filesystem::path(argv[2]);
    const auto drawing = seconds_of([&] { pdf::write_pdf(pages, dossier.date, file.string() + ".pdf"); });
    const auto count = static_cast<double>(pages.pages.size());
    const auto page_cpu = static_cast<double>(std::clock() - before_pages) / CLOCKS_PER_SEC;
    fmt::print("pages          {} in {:.3f} s composed and laid out, {:.3f} s drawn, {:.3f} s of CPU: {:.0f} "
               "pages/s\n",
               count, laying_out, drawing, page_cpu, count / (laying_out + drawing));
    write_items(pages, file.string() + ".items");

    const auto before = std::clock();
    const auto writing = seconds_of([&] { workbook::write_workbook(dossier, file); });
    const auto cpu = static_cast<double>(std::clock() - before) / CLOCKS_PER_SEC;
    fmt::print("workbook       {:.3f} s, {:.3f} s of CPU, {:.1f} MB\n", writing, cpu,
               static_cast<double>(std::filesystem::file_size(file)) / 1e6);
    return 0;
}
