#include "cli/commands.hpp"
#include "cli/evidence.hpp"
#include "cli/hashed_files.hpp"
#include "cli/stages.hpp"
#include "cli/template_text.hpp"
#include "cli/terminal.hpp"
#include "diagnostics/diagnostic.hpp"
#include "layout/faces.hpp"
#include "layout/page.hpp"
#include "metrics/metrics.hpp"
#include "pdf/pdf.hpp"
#include "record/read_back.hpp"
#include "record/record.hpp"
#include "report/document.hpp"
#include "seal/seal.hpp"
#include "workbook/workbook.hpp"

#include <array>
#include <cerrno>
#include <cstdio>
#include <future>
#include <system_error>
#include <vector>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

namespace fs = std::filesystem;

/// Faces of the report with their hashes, for the record and the evidence.
void set_faces(model::Dossier& dossier, const std::vector<std::string>& files)
{
    dossier.faces.clear();
    for (const auto& file : files)
        dossier.faces.emplace_back(fs::path(file).filename().string(), seal::sha256_hex_of_file(file));
}

/// Pages that list the faces in which they are set. They are known when all is laid out: pages that list too
/// many are laid out once more.
layout::Pages make_pages(model::Dossier& dossier, const Template& chosen, layout::Paper paper,
                         Progress& progress)
{
    auto listed = layout::face_files();
    for (;;) {
        set_faces(dossier, listed);
        progress.stage("compose");
        const auto document = luxdossier::report::compose(dossier, chosen.text);
        progress.stage("lay out");
        auto pages = layout::lay_out(document, dossier, paper);
        auto used = layout::used_faces(pages);
        if (used.size() >= listed.size())
            return pages;
        listed = std::move(used);
    }
}

/// A dossier is replaced by one of the same document only.
seal::Examine same_document(const std::string& number)
{
    return [number](const fs::path& folder, const std::string& shown) {
        const auto older = record::document_number(folder / "record.json");
        if (older && *older != number)
            throw seal::Refusal(
                fmt::format("{} is the dossier of document {}, {}\n"
                            "  advice: give another folder with --out, or move that one away yourself",
                            shown, diagnostics::quoted(*older),
                            number.empty() ? "and this document has no number"
                                           : "not of " + diagnostics::quoted(number)));
    };
}

/// Everything of a dossier but its seal; what was written is read back and returned.
std::vector<seal::ManifestEntry> write_parts(const model::Dossier& dossier, const layout::Pages& pages,
                                             const fs::path& folder)
{
    std::vector<seal::ManifestEntry> written;
    // They share nothing that any of them changes.
    auto record_and_pages = std::async(std::launch::async, [&] {
        const auto file = folder / "record.json";
        const auto record = seal::write_file_in_pieces(
            file, [&](const auto& append) { record::write_record(dossier, append); });
        record::check_json(file);
        const auto report = pdf::write_pdf(pages, dossier.date, folder / "report.pdf");
        return std::array{seal::ManifestEntry{"record.json", record},
                          seal::ManifestEntry{"report.pdf", seal::sha256_hex(report)}};
    });
    if (!dossier.qualification.corrections.empty()) {
        const auto file = folder / "correction.json";
        written.push_back({"correction.json", seal::write_file(file, record::write_corrections(dossier))});
        record::check_json(file);
    }
    workbook::write_workbook(dossier, folder / "workbook.xlsx");
    written.push_back({"workbook.xlsx", seal::sha256_hex_of_file(folder / "workbook.xlsx")});
    for (const auto& entry : record_and_pages.get())
        written.push_back(entry);
    return written;
}

/// The dossier is sealed whatever becomes of the words about it.
void tell(const model::Dossier& dossier, const fs::path& target)
{
    const auto text = fmt::format("{}\n{}\n", target.string(), overall_line(dossier));
    if (std::fputs(text.c_str(), stdout) < 0 || std::fflush(stdout) != 0)
        throw std::system_error(
            errno, std::generic_category(),
            fmt::format("{} is written and sealed, but cannot write to standard output", target.string()));
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
    const auto examine = same_document(inputs.qualification.document.number);
    const auto standing = seal::check_target(target, options.replace, examine);
    const auto sources = inputs.sources;

    progress.stage("evaluate and judge");
    auto dossier = evaluate_inputs(std::move(inputs), !options.no_trials);
    dossier.template_name = chosen_template.name;

    progress.stage("draw figures");
    dossier.figures = metrics::figures(dossier);

    const auto pages =
        make_pages(dossier, chosen_template,
                   options.paper == "letter" ? layout::Paper::letter : layout::Paper::a4, progress);

    const auto fill = [&](const fs::path& folder) {
        progress.stage("write record, pages and workbook");
        auto written = write_parts(dossier, pages, folder);
        progress.stage("copy inputs");
        copy_inputs(dossier.qualification, sources, folder, written);
        progress.stage("seal");
        seal::write_manifest(folder, written);
    };
    seal::publish_folder(standing, fill, examine);
    progress.done();

    if (options.timings)
        fmt::print(stderr, "{}", progress.timings());
    tell(dossier, target);
    return exit_code_of(dossier.verdicts);
}

}  // namespace luxdossier::cli
