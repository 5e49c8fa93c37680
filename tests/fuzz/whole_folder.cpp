#include "fuzz/whole_folder.hpp"

#include "cli/stages.hpp"
#include "intake/intake.hpp"
#include "intake/memory_files.hpp"
#include "layout/page.hpp"
#include "metrics/metrics.hpp"
#include "record/record.hpp"
#include "report/document.hpp"
#include "seal/seal.hpp"

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>

#include <fmt/format.h>

namespace luxdossier::fuzz {
namespace {

namespace fs = std::filesystem;

/// The base folder of tests/cases, or another one that is to be driven.
fs::path base_folder()
{
    const auto* other = std::getenv("LUXDOSSIER_FUZZ_FOLDER");
    return other != nullptr ? fs::path(other) : fs::path(LUXDOSSIER_CASES) / "base";
}

const fs::path base = base_folder();

test::MemoryFiles base_with(const std::string& file, std::string content)
{
    test::MemoryFiles files;
    for (const auto& entry : fs::recursive_directory_iterator(base))
        if (entry.is_regular_file())
            files.set(entry.path().lexically_relative(base).string(), seal::read_file(entry.path()));
    files.set(file, std::move(content));
    return files;
}

void check_faults(const diagnostics::Diagnostics& faults, bool refused)
{
    promise(refused == faults.has_errors(),
            refused ? "refused without a fault" : "taken in spite of a fault");
    constexpr std::size_t longest = 4000;  // a message of a fault is read by a person
    for (const auto& fault : faults.all())
        promise(diagnostics::render(fault).size() < longest, "a message longer than a page");
}

void check_results(const model::Dossier& dossier)
{
    for (const auto& result : dossier.evaluation.results) {
        if (!result.undecided.empty())
            continue;
        promise(result.value && std::isfinite(*result.value),
                result.id + " is decided without a finite value");
        if (result.combined)
            promise(result.combined->standard_uncertainty >= 0 && result.combined->expanded_uncertainty >= 0,
                    result.id + " is decided without an uncertainty");
    }
    for (const auto& verdict : dossier.verdicts.verdicts)
        if (verdict.outcome != model::Outcome::not_decided)
            promise(verdict.result && dossier.evaluation.results.at(*verdict.result).undecided.empty(),
                    "a verdict on a result that is not decided");
}

}  // namespace

void promise(bool holds, const std::string& what)
{
    if (holds)
        return;
    fmt::print(stderr, "broken promise: {}\n", what);
    std::abort();
}

std::string base_file(const std::string& file)
{
    return seal::read_file(base / file);
}

std::optional<model::Dossier> evaluate_with(const std::string& file, std::string content)
{
    const auto files = base_with(file, std::move(content));
    diagnostics::Diagnostics faults;
    cli::Inputs inputs;
    auto qualification = intake::read_qualification(files, faults);
    check_faults(faults, !qualification);
    const auto limits_text = files.read("limits.json").content;
    if (!qualification) {
        intake::check_limits("limits.json", limits_text, files, metrics::catalogue(), faults);
        return std::nullopt;
    }
    inputs.qualification = std::move(*qualification);
    std::vector<model::InputFile> read;
    inputs.limits = intake::read_limits("limits.json", limits_text, files, inputs.qualification,
                                        metrics::catalogue(), read, faults);
    check_faults(faults, !inputs.limits);
    if (!inputs.limits)
        return std::nullopt;
    inputs.limits->file = "limits.json";
    auto dossier = cli::evaluate_inputs(std::move(inputs));
    check_results(dossier);
    dossier.figures = metrics::figures(dossier);
    return dossier;
}

std::string readings_file()
{
    const auto* other = std::getenv("LUXDOSSIER_FUZZ_FILE");
    return other != nullptr ? other : "bare.csv";
}

void write_all(const model::Dossier& dossier, const std::string& template_text)
{
    promise(!record::write_record(dossier).empty(), "an empty record");
    const auto pages = layout::lay_out(report::compose(dossier, template_text), dossier);
    promise(!pages.pages.empty(), "a report without pages");
}

}  // namespace luxdossier::fuzz
