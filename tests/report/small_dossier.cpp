#include "report/small_dossier.hpp"

#include "uncertainty/expression.hpp"

#include <cmath>
#include <fstream>
#include <sstream>

namespace luxdossier::test {
namespace {

std::string long_id(std::string stem, std::size_t index, std::size_t length)
{
    stem += std::to_string(index);
    while (stem.size() < length)
        stem += "-x";
    return stem.substr(0, std::max(length, std::string("S00").size()));
}

void add_result(model::Dossier& dossier, uncertainty::GraphBuilder& builder, const std::string& sample,
                double level_lx, double error)
{
    uncertainty::InputQuantity certificate;
    certificate.identity = "certificate";
    certificate.quantity = "certificate of the meter, common part";
    certificate.symbol = "C_common";
    certificate.unit = "1";
    certificate.standard_uncertainty = 0.4;
    uncertainty::InputQuantity mean;
    mean.identity = "mean/" + sample + "/" + std::to_string(level_lx);
    mean.quantity = "reading error, mean of 10";
    mean.symbol = "e";
    mean.unit = "%";
    mean.estimate = error;
    mean.standard_uncertainty = 0.3;
    mean.evaluation = uncertainty::Evaluation::type_a;
    mean.degrees_of_freedom = 9;
    const auto node = builder.input(mean) + builder.input(certificate);
    model::Result result;
    result.metric = "reading_error";
    result.sample = sample;
    result.conditions = {{"configuration", std::string("bare")},
                         {"source", std::string("led")},
                         {"level", model::ConditionQuantity{level_lx, "lx"}}};
    result.id = model::result_id(result.metric, result.sample, result.conditions);
    result.unit = "%";
    result.node = node.node();
    result.value = error;
    result.combined = uncertainty::Combined{error, 0.5, 69, 0.9545, 2.03, 1.0};
    result.illuminance_lx = level_lx;
    dossier.evaluation.results.push_back(std::move(result));
}

void add_limit(model::Dossier& dossier, const std::string& id, double bound)
{
    model::Limit limit;
    limit.id = id;
    limit.clause = "4.1";
    limit.metric = "reading_error";
    limit.lower = -bound;
    limit.upper = bound;
    limit.unit = "%";
    const std::size_t index = dossier.limits->limits.size();
    dossier.limits->limits.push_back(limit);
    auto worst = model::Outcome::pass;
    for (std::size_t r = index % 3; r < dossier.evaluation.results.size(); r += 7) {
        model::Verdict verdict;
        verdict.limit = index;
        verdict.result = r;
        verdict.value = dossier.evaluation.results[r].value;
        verdict.expanded_uncertainty = 1.0;
        verdict.tolerance_lower = -bound;
        verdict.tolerance_upper = bound;
        verdict.acceptance_lower = -bound + 1;
        verdict.acceptance_upper = bound - 1;
        verdict.guard_lower = verdict.guard_upper = 1.0;
        verdict.margin = bound - 1 - std::abs(*verdict.value);
        verdict.conformance_probability = 0.98;
        verdict.unit = "%";
        const double size = std::abs(*verdict.value);
        verdict.outcome = size <= bound - 1 ? model::Outcome::pass
                          : size <= bound   ? model::Outcome::conditional_pass
                                            : model::Outcome::fail;
        worst = std::max(worst, verdict.outcome);
        dossier.verdicts.verdicts.push_back(verdict);
    }
    dossier.verdicts.by_limit.emplace_back(worst);
    dossier.verdicts.overall = std::max(dossier.verdicts.overall.value_or(model::Outcome::pass), worst);
}

model::Figure error_figure(const model::Dossier& dossier)
{
    model::Figure figure;
    figure.id = "reading_error/bare/led";
    figure.family = "reading-error";
    figure.title = "Reading error: bare, led";
    figure.caption = "Reading error per level.";
    figure.alternative_text = "Reading error of all samples.";
    model::Panel panel;
    panel.x = {"illuminance / lx", true, std::nullopt, std::nullopt};
    panel.y = {"reading error / %", false, std::nullopt, std::nullopt};
    for (const auto& result : dossier.evaluation.results) {
        if (panel.series.empty() || panel.series.back().name != result.sample) {
            panel.series.push_back({result.sample,
                                    {},
                                    model::Mark::disc,
                                    model::Stroke::solid,
                                    static_cast<int>(panel.series.size()),
                                    {}});
        }
        panel.series.back().points.push_back({*result.illuminance_lx, *result.value, 1.0, 1.0, false});
    }
    panel.limits.push_back({"L-1", true, {{10, 5}, {10000, 5}}, {{10, 4}, {10000, 4}}});
    panel.limits.push_back({"L-1", false, {{10, -5}, {10000, -5}}, {{10, -4}, {10000, -4}}});
    figure.panels.push_back(std::move(panel));
    return figure;
}

}  // namespace

model::Dossier small_dossier(std::size_t samples, std::size_t levels, std::size_t limits,
                             std::size_t id_length)
{
    model::Dossier dossier;
    auto& document = dossier.qualification.document;
    document.number = "K-1";
    document.title = "Small bench";
    document.issued = model::Date{std::chrono::days{20000}};
    document.laboratory.name = "Optical bench";
    dossier.qualification.configurations.push_back(
        {"bare", "", 1.0, true, std::nullopt, false, std::nullopt});
    uncertainty::GraphBuilder builder;
    for (std::size_t s = 0; s < samples; ++s) {
        const auto id = long_id("S", s + 1, id_length);
        dossier.qualification.samples.push_back({id, "unit", "", "", ""});
        for (std::size_t l = 0; l < levels; ++l)
            add_result(dossier, builder, id,
                       std::pow(10.0, static_cast<double>(l % 4) + 1) * (1 + static_cast<double>(l / 4)),
                       -2 + 0.75 * static_cast<double>((s + 2 * l) % 7));
    }
    dossier.evaluation.graph = std::move(builder).freeze();
    if (limits > 0) {
        dossier.limits.emplace();
        dossier.limits->title = "Limits of the small bench";
        dossier.limits->rule = {model::RuleKind::four_outcome, 1.0};
        for (std::size_t i = 0; i < limits; ++i)
            add_limit(dossier, long_id("L-", i + 1, id_length), 2.0 + static_cast<double>(i % 4));
    }
    model::FamilyInfo family;
    family.id = "reading-error";
    family.title = "Reading error";
    family.question = "By how much does the reading differ?";
    family.formulas = {"e = (D/E - 1) x 100 %"};
    family.metrics.push_back(
        {"reading_error", "Reading error", "%", "e", {"configuration", "source", "level"}, true, ""});
    dossier.families.push_back(std::move(family));
    dossier.figures.push_back(error_figure(dossier));
    dossier.version = "0.1.0";
    dossier.date = {1.7e9};
    return dossier;
}

std::string customer_template()
{
    std::ifstream file(std::string(LUXDOSSIER_SOURCE_DIRECTORY) + "/templates/customer.md", std::ios::binary);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

}  // namespace luxdossier::test
