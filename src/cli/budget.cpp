#include "cli/commands.hpp"
#include "cli/stages.hpp"
#include "cli/terminal.hpp"
#include "conformity/trials.hpp"
#include "intake/intake.hpp"
#include "metrics/metrics.hpp"
#include "record/record.hpp"
#include "report/numbers.hpp"
#include "seal/seal.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <system_error>

#include <fmt/format.h>

namespace luxdossier::cli {
namespace {

namespace fs = std::filesystem;

std::string content_of(const std::string& file)
{
    std::error_code error;
    const auto on_disk = fs::canonical(file, error);
    if (error == std::errc::no_such_file_or_directory)
        throw InputFault(fmt::format("found no file {}, expected a file of measurement models\n", file));
    if (error)
        throw std::system_error(error, "cannot read " + file);
    const auto answer = intake::folder_on_disk(on_disk.parent_path())->read(on_disk.filename().string());
    if (answer.state == intake::Files::State::unreadable)
        throw std::system_error(std::make_error_code(std::errc::permission_denied), "cannot read " + file);
    if (answer.state != intake::Files::State::regular || answer.pieces)
        throw InputFault(fmt::format("{} is {}, expected a file of measurement models in JSON\n", file,
                                     answer.pieces ? "larger than 64 MiB" : "no regular file"));
    return answer.content;
}

/// A number beside an uncertainty: as many decimals as two digits of the uncertainty need.
std::string beside(double value, double uncertainty)
{
    return uncertainty > 0 && std::isfinite(uncertainty)
               ? report::number_text(value, report::decimals_of_uncertainty(uncertainty))
               : report::significant_text(value, 8);
}

/// Ends to three digits of half the length: one more than U, so that a difference of the ends shows.
std::string interval_text(double lower, double upper)
{
    const double half = (upper - lower) / 2;
    if (!(half > 0) || !std::isfinite(half))
        return fmt::format("[{}, {}]", report::significant_text(lower, 8),
                           report::significant_text(upper, 8));
    const int decimals = report::decimals_of_uncertainty(half, 3);
    return fmt::format("[{}, {}]", report::number_text(lower, decimals),
                       report::number_text(upper, decimals));
}

std::string budget_table(const model::Evaluation& evaluation, const model::Result& result)
{
    std::vector<std::vector<std::string>> rows{{"symbol", "quantity", "estimate", "unit", "u", "distribution",
                                                "nu", "sensitivity", "contribution", "share"}};
    for (const auto& line : evaluation.budget(result).lines) {
        const auto& input = evaluation.graph.inputs()[line.input.index];
        rows.push_back({input.symbol, input.quantity, beside(input.estimate, input.standard_uncertainty),
                        input.unit, report::significant_text(input.standard_uncertainty, 3),
                        std::string(uncertainty::distribution_text(input.distribution)),
                        report::degrees_of_freedom_text(input.degrees_of_freedom),
                        report::significant_text(line.sensitivity, 4),
                        report::significant_text(line.contribution, 3), report::percent_text(line.share, 1)});
    }
    return aligned(rows, {false, false, true, false, true, false, true, true, true, true});
}

std::string first_order_text(const model::Result& result)
{
    const auto& found = *result.combined;
    const auto rounded = report::rounded_result(found.value, found.expanded_uncertainty);
    return fmt::format(
        "{}  y = {}, u = {}, nu = {}, k = {:.2f}, U = {} ({})\n"
        "              interval {}\n",
        found.is_second_order ? "second order" : "first order ",
        report::with_unit(rounded.value, result.unit),
        report::significant_text(found.standard_uncertainty, 3),
        report::degrees_of_freedom_text(found.degrees_of_freedom), found.coverage_factor, rounded.uncertainty,
        report::percent_text(found.coverage_probability, 2),
        interval_text(found.value - found.expanded_uncertainty, found.value + found.expanded_uncertainty));
}

std::string trials_text(const model::Result& result)
{
    const auto& found = *result.monte_carlo;
    std::string text = "Monte Carlo   ";
    if (found.standard_uncertainty)
        text += fmt::format("mean {}, u = {}, ", beside(found.mean, *found.standard_uncertainty),
                            report::significant_text(*found.standard_uncertainty, 3));
    else
        text += "no standard uncertainty, ";
    text += fmt::format("{} trials\n              ", found.trials);
    if (!found.interval)
        return text + "the trials show no interval\n";
    text += fmt::format("{} interval {}, ends good to {} ({} for the stated digits)\n",
                        found.is_shortest ? "shortest" : "symmetric",
                        interval_text(found.interval->lower, found.interval->upper),
                        report::significant_text(found.numerical_tolerance, 2),
                        report::significant_text(found.asked_tolerance, 2));
    if (found.undefined > 0)
        text += fmt::format("              the model is not defined in {} of the trials\n", found.undefined);
    return text;
}

std::string validation_text(const model::Result& result)
{
    const auto& found = *result.monte_carlo->validation;
    return fmt::format(
        "validation    the ends differ by {} and {}, permitted {} (one digit of u): the {} order is {}\n",
        report::significant_text(found.d_low, 2), report::significant_text(found.d_high, 2),
        report::significant_text(found.delta, 2), result.combined->is_second_order ? "second" : "first",
        found.validated ? "validated" : "not validated, the interval of the trials stands");
}

std::string result_text(const model::Dossier& dossier, const model::StatedModel& stated,
                        const model::Result& result)
{
    auto text = fmt::format("{}{}\n  {} = {}\n\n", stated.id, stated.title.empty() ? "" : ": " + stated.title,
                            stated.id, stated.equation);
    if (!result.combined)
        return text + fmt::format("not decided: {}\n", result.undecided);
    text += budget_table(dossier.evaluation, result) + "\n" + first_order_text(result);
    if (result.monte_carlo) {
        text += trials_text(result);
        if (result.monte_carlo->validation)
            text += validation_text(result);
    }
    return text;
}

std::string text_of(const model::Dossier& dossier)
{
    std::string text;
    const auto& models = dossier.qualification.models;
    for (std::size_t i = 0; i < models.size(); ++i)
        text += result_text(dossier, models[i], dossier.evaluation.results.at(i)) + "\n";
    for (const auto& remark : dossier.remarks)
        text += fmt::format("{}: {}\n  effect: {}\n  advice: {}\n", remark.id, remark.seen, remark.effect,
                            remark.advice);
    return text;
}

}  // namespace

model::Dossier evaluate_models(model::Qualification qualification)
{
    model::Dossier dossier;
    dossier.qualification = std::move(qualification);
    dossier.evaluation = metrics::evaluate(dossier.qualification);
    if (dossier.qualification.evaluation.monte_carlo)
        static_cast<void>(conformity::evaluate_by_trials(dossier.qualification, nullptr, dossier.evaluation,
                                                         conformity::TrialExtent::all_digits));
    dossier.remarks = dossier.evaluation.remarks;
    return dossier;
}

int budget(const Options& options)
{
    diagnostics::Diagnostics faults;
    auto qualification = intake::read_models_file(options.folder, content_of(options.folder), faults);
    if (!qualification) {
        std::string text;
        for (const auto& fault : faults.all())
            text += diagnostics::render(fault);
        throw InputFault(text);
    }
    const auto dossier = evaluate_models(std::move(*qualification));
    fmt::print("{}", options.json ? record::write_budget(dossier) : text_of(dossier));
    return std::ranges::all_of(dossier.evaluation.results,
                               [](const auto& one) { return one.undecided.empty(); })
               ? 0
               : 1;
}

}  // namespace luxdossier::cli
