#include "cli/commands.hpp"
#include "cli/stages.hpp"
#include "cli/template_text.hpp"
#include "cli/terminal.hpp"
#include "layout/page.hpp"
#include "metrics/metrics.hpp"
#include "pdf/pdf.hpp"
#include "record/record.hpp"
#include "report/document.hpp"
#include "seal/seal.hpp"
#include "workbook/workbook.hpp"

#include <cstdio>
#include <future>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

namespace fs = std::filesystem;

/// Faces of the report with their hashes, for the record and the evidence.
void add_faces(model::Dossier& dossier)
{
    for (const auto& file : layout::face_files())
        dossier.faces.emplace_back(fs::path(file).filename().string(), seal::sha256_hex_of_file(file));
}

/// Byte copies of all inputs. A file that changed since it was read is an error: the evidence would not be
/// what was evaluated.
void copy_inputs(const model::Qualification& qualification, const std::vector<fs::path>& on_disk,
                 const fs::path& folder)
{
    for (std::size_t i = 0; i < qualification.files.size(); ++i) {
        const auto& file = qualification.files[i];
        const bool is_kept = file.content.size() == file.size;
        const auto target = fs::path("inputs") / file.path;
        if (is_kept)
            seal::write_file_below(folder, target, file.content);
        else
            seal::copy_file_below(folder, target, on_disk[i]);
        if (!is_kept && seal::sha256_hex_of_file(folder / target) != file.sha256)
            throw InputFault(
                fmt::format("{} changed while it was evaluated\n  advice: run again\n", file.path));
    }
}

}  // namespace

int report(const Options& options)
{
    const auto target = options.out.empty() ? fs::path(options.folder) / "dossier" : fs::path(options.out);
    Progress progress;

    progress.stage("read");
    auto inputs = read_or_fail(options.folder, options.limits);
    auto chosen_template = read_template(options.template_name);
    add_template(chosen_template, inputs);
    seal::check_target(target, options.replace);
    const auto on_disk = inputs.on_disk;

    progress.stage("evaluate and judge");
    auto dossier = evaluate_inputs(std::move(inputs), !options.no_trials);
    dossier.template_name = chosen_template.name;
    add_faces(dossier);

    progress.stage("draw figures");
    dossier.figures = metrics::figures(dossier);

    progress.stage("compose");
    const auto document = luxdossier::report::compose(dossier, chosen_template.text);

    progress.stage("lay out");
    const auto pages = layout::lay_out(document, dossier,
                                       options.paper == "letter" ? layout::Paper::letter : layout::Paper::a4);

    seal::publish_folder(target, options.replace, [&](const fs::path& folder) {
        progress.stage("write record, pages and workbook");
        // They share nothing that any of them changes.
        auto record_and_pages = std::async(std::launch::async, [&] {
            seal::write_file_in_pieces(folder / "record.json",
                                       [&](const auto& append) { record::write_record(dossier, append); });
            pdf::write_pdf(pages, dossier.date, folder / "report.pdf");
        });
        if (!dossier.qualification.corrections.empty())
            seal::write_file(folder / "correction.json", record::write_corrections(dossier));
        workbook::write_workbook(dossier, folder / "workbook.xlsx");
        record_and_pages.get();
        progress.stage("copy inputs");
        copy_inputs(dossier.qualification, on_disk, folder);
        progress.stage("seal");
        seal::write_manifest(folder);
    });
    progress.done();

    if (options.timings)
        fmt::print(stderr, "{}", progress.timings());
    fmt::print("{}\n{}\n", target.string(), overall_line(dossier));
    return exit_code_of(dossier.verdicts);
}

}  // namespace luxdossier::cli
