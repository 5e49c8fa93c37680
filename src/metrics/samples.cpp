#include "metrics/bench.hpp"
#include "metrics/families.hpp"
#include "metrics/figure_parts.hpp"
#include "metrics/figures.hpp"

#include "statistics/anova.hpp"
#include "statistics/summary.hpp"
#include "statistics/tolerance.hpp"
#include "uncertainty/coverage.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

constexpr double content = 0.95, confidence = 0.95;

/// Results of one condition, by sample; repetitions of a sample in the order of the runs.
struct Group {
    model::Conditions conditions;
    std::map<std::string, std::vector<std::size_t>> by_sample;
    Trail trail;
    bool undecided = false;
};

/// Conditions by which a sample was measured again: they tell repetitions apart, not results.
bool repeats(const std::string& name)
{
    return name == "day" || name == "operator" || name == "remount" || name == "run";
}

/// Groups of decided reading errors in the order of their first result.
std::vector<Group> groups_of(const Bench& bench)
{
    std::vector<Group> groups;
    std::map<std::string, std::size_t> place_of;
    const auto& results = bench.results();
    for (std::size_t i = 0; i < results.size(); ++i) {
        const auto& result = results[i];
        if (result.metric != "reading_error" || result.sample.empty())
            continue;
        auto conditions = result.conditions;
        for (auto it = conditions.begin(); it != conditions.end();)
            it = repeats(it->first) || it->first == "distance" || it->first == "meter_temperature"
                     ? conditions.erase(it)
                     : std::next(it);
        const auto key = model::result_id("", "", conditions);
        const auto [found, is_new] = place_of.try_emplace(key, groups.size());
        if (is_new) {
            groups.emplace_back();
            groups.back().conditions = conditions;
            groups.back().conditions["of"] = std::string("reading_error");
        }
        auto& group = groups[found->second];
        group.by_sample[result.sample].push_back(i);
        group.undecided = group.undecided || !result.undecided.empty() || !result.node;
        for (const auto run : result.runs)
            if (std::ranges::find(group.trail.runs, run) == group.trail.runs.end())
                group.trail.runs.push_back(run);
    }
    return groups;
}

model::Result result_of(const Group& group, std::string metric)
{
    model::Result result;
    result.metric = std::move(metric);
    result.conditions = group.conditions;
    result.unit = "%";
    return result;
}

std::vector<double> values_of(const Bench& bench, const std::vector<std::size_t>& results)
{
    std::vector<double> values;
    for (const auto i : results)
        values.push_back(*bench.results()[i].value);
    return values;
}

/// Mean over the repetitions of each sample.
std::vector<Expression> means_of(Bench& bench, const Group& group)
{
    std::vector<Expression> means;
    for (const auto& [sample, results] : group.by_sample) {
        Expression sum(bench.builder(), *bench.results()[results.front()].node);
        for (std::size_t i = 1; i < results.size(); ++i)
            sum = sum + Expression(bench.builder(), *bench.results()[results[i]].node);
        means.push_back(results.size() == 1 ? sum : sum / static_cast<double>(results.size()));
    }
    return means;
}

/// Standard uncertainty of the mean over the samples from the inputs that act on two samples or more: what
/// the scatter of the samples cannot show.
struct Shared {
    double standard_uncertainty = 0;
    std::vector<uncertainty::Input> inputs;
};
Shared shared_uncertainty(const std::vector<Expression>& means)
{
    std::map<std::uint32_t, std::pair<int, double>> by_input;  // samples, summed sensitivity
    const auto& graph = means.front().builder().graph();
    for (const auto& mean : means)
        for (const auto& [input, coefficient] : graph.sensitivities(mean.node()))
            if (std::abs(coefficient) * graph.inputs()[input.index].standard_uncertainty > 1e-9) {
                auto& [samples, sum] = by_input[input.index];
                ++samples;
                sum += coefficient;
            }
    Shared shared;
    double variance = 0;
    for (const auto& [input, entry] : by_input) {
        if (entry.first < 2)
            continue;
        shared.inputs.push_back(uncertainty::Input{input});
        variance += std::pow(
            entry.second / static_cast<double>(means.size()) * graph.inputs()[input].standard_uncertainty, 2);
    }
    shared.standard_uncertainty = std::sqrt(variance);
    return shared;
}

/// "({i0}+{i1})/2": the mean of operands that it adds to a recipe.
template <typename Add>
std::string mean_text(const std::vector<std::size_t>& results, const Add& add)
{
    std::string text;
    for (const auto result : results)
        text += fmt::format("{}{}", text.empty() ? "" : "+", add(result));
    return results.size() == 1 ? text : fmt::format("({})/{}", text, results.size());
}

/// An end of the tolerance interval as the workbook computes it; `sign` is "-" or "+".
model::Recipe interval_recipe(const Group& group, const Shared& shared, double factor, const char* sign)
{
    using Of = model::Recipe::Of;
    model::Recipe recipe;
    const auto add = [&](model::Recipe::Operand operand) {
        recipe.operands.push_back(std::move(operand));
        return fmt::format("{{i{}}}", recipe.operands.size() - 1);
    };
    const auto n = group.by_sample.size();
    std::map<std::size_t, std::string> value_of;
    for (const auto& [sample, results] : group.by_sample)
        for (const auto result : results)
            value_of[result] = add({Of::result, result});
    std::string sum;
    std::vector<std::string> values;
    for (const auto& [sample, results] : group.by_sample) {
        values.push_back(mean_text(results, [&](std::size_t result) { return value_of[result]; }));
        sum += fmt::format("{}{}", sum.empty() ? "" : "+", values.back());
    }
    const auto mean = fmt::format("({})/{}", sum, n);
    std::string squares, variances;
    for (const auto& value : values)
        squares += fmt::format("{}POWER({}-{},2)", squares.empty() ? "" : "+", value, mean);
    for (const auto input : shared.inputs) {
        std::string coefficients;
        for (const auto& [sample, results] : group.by_sample)
            coefficients += fmt::format("{}{}", coefficients.empty() ? "" : "+",
                                        mean_text(results, [&](std::size_t result) {
                                            model::Recipe::Operand operand{Of::sensitivity, result};
                                            operand.input = input;
                                            return add(std::move(operand));
                                        }));
        model::Recipe::Operand u{Of::input_uncertainty};
        u.input = input;
        variances += fmt::format("{}POWER(({})/{}*{},2)", variances.empty() ? "" : "+", coefficients, n,
                                 add(std::move(u)));
    }
    const auto k = add({Of::factor, 0, factor, fmt::format("tolerance factor 95 %/95 %, two-sided, of {}", n),
                        "found by an integral over the non-central distribution"});
    recipe.formula = fmt::format("{}{}({}*SQRT(({})/{})", mean, sign, k, squares, n - 1);
    if (!variances.empty())
        recipe.formula += fmt::format("+{}*SQRT({})", add({Of::normal_factor}), variances);
    recipe.formula += ")";
    return recipe;
}

double tolerance_factor(std::size_t n)
{
    static thread_local std::map<std::size_t, double> known;
    const auto found = known.find(n);
    return found != known.end()
               ? found->second
               : known.emplace(n, statistics::two_sided_tolerance_factor(n, content, confidence))
                     .first->second;
}

void evaluate_interval(Bench& bench, const Group& group, const std::vector<Expression>& means)
{
    std::vector<double> values;
    for (const auto& mean : means)
        values.push_back(mean.value());
    const auto summary = statistics::summarise(values);
    const auto shared = shared_uncertainty(means);
    const double widening = shared.standard_uncertainty *
                            uncertainty::coverage_factor(
                                bench.qualification().evaluation.coverage_probability, uncertainty::infinite);
    const double factor = tolerance_factor(summary.n);
    const double half = factor * summary.standard_deviation + widening;
    const auto add = [&](const char* metric, double end, const char* sign) {
        auto result = result_of(group, metric);
        result.recipe = interval_recipe(group, shared, factor, sign);
        bench.add_value(std::move(result), end, group.trail);
    };
    add("tolerance_interval_lower", summary.mean - half, "-");
    add("tolerance_interval_upper", summary.mean + half, "+");
}

/// Standard deviation between the units: of their values where each was measured once, else the component
/// of an analysis of variance.
void evaluate_units(Bench& bench, const Group& group, const std::vector<Expression>& means, bool repeated)
{
    auto result = result_of(group, "unit_standard_deviation");
    if (repeated) {
        std::vector<std::vector<double>> readings;
        for (const auto& [sample, results] : group.by_sample)
            readings.push_back(values_of(bench, results));
        const auto anova = statistics::analyse_one_way(readings);
        result.upper_bound = anova.negative;
        bench.add_value(std::move(result),
                        std::sqrt(anova.negative ? anova.between_variance_upper : anova.between_variance),
                        group.trail);
        return;
    }
    auto sum = means.front();
    for (std::size_t i = 1; i < means.size(); ++i)
        sum = sum + means[i];
    const auto mean = sum / static_cast<double>(means.size());
    auto squares = (means.front() - mean) * (means.front() - mean);
    for (std::size_t i = 1; i < means.size(); ++i)
        squares = squares + (means[i] - mean) * (means[i] - mean);
    if (!(squares.value() > 0)) {
        bench.add_undecided(std::move(result), "all samples read alike: their scatter is not known",
                            group.trail);
        return;
    }
    bench.add(std::move(result),
              {square_root(squares / static_cast<double>(means.size() - 1)).named("s_units"), group.trail});
}

/// Repetitions of one sample under the same day and operator, as the cells of an analysis of variance.
std::vector<std::vector<double>> cells_of(const Bench& bench, const std::vector<std::size_t>& results)
{
    std::map<std::string, std::vector<double>> cells;
    for (const auto i : results) {
        const auto& result = bench.results()[i];
        cells[text_of(result, "day") + "\n" + text_of(result, "operator")].push_back(*result.value);
    }
    std::vector<std::vector<double>> found;
    for (auto& [key, values] : cells)
        found.push_back(std::move(values));
    return found;
}

void evaluate_repetitions(Bench& bench, const Group& group)
{
    double within = 0, freedom = 0, between = 0, samples = 0;
    for (const auto& [sample, results] : group.by_sample) {
        const auto cells = cells_of(bench, results);
        for (const auto& cell : cells)
            if (cell.size() > 1) {
                const auto summary = statistics::summarise(cell);
                within += std::pow(summary.standard_deviation, 2) * static_cast<double>(cell.size() - 1);
                freedom += static_cast<double>(cell.size() - 1);
            }
        if (cells.size() > 1 && results.size() > cells.size()) {
            between += statistics::analyse_one_way(cells).between_variance;
            samples += 1;
        }
    }
    if (!(freedom > 0))
        return;
    const double repeatability = within / freedom;
    bench.add_value(result_of(group, "repeatability_standard_deviation"), std::sqrt(repeatability),
                    group.trail);
    if (samples > 0)
        bench.add_value(result_of(group, "reproducibility_standard_deviation"),
                        std::sqrt(repeatability + between / samples), group.trail);
}

void evaluate_group(Bench& bench, const Group& group)
{
    const bool repeated =
        std::ranges::any_of(group.by_sample, [](const auto& entry) { return entry.second.size() > 1; });
    if (group.by_sample.size() < 2 && !repeated)
        return;
    if (group.undecided) {
        if (group.by_sample.size() > 1)
            for (const auto* metric :
                 {"unit_standard_deviation", "tolerance_interval_lower", "tolerance_interval_upper"})
                bench.add_undecided(result_of(group, metric), "a sample has no decided reading error",
                                    group.trail);
        return;
    }
    if (group.by_sample.size() > 1) {
        const auto means = means_of(bench, group);
        evaluate_units(bench, group, means, repeated);
        evaluate_interval(bench, group, means);
    }
    if (repeated)
        evaluate_repetitions(bench, group);
}

/// The sample that stands farthest from the illuminance, over all groups of several samples.
void state_worst(Bench& bench, const std::vector<Group>& groups)
{
    const model::Result* worst = nullptr;
    for (const auto& group : groups)
        if (group.by_sample.size() > 1 && !group.undecided)
            for (const auto& [sample, results] : group.by_sample)
                for (const auto i : results)
                    if (says_more(bench.results()[i], worst))
                        worst = &bench.results()[i];
    if (worst == nullptr)
        return;
    const auto level_lx = number_of(*worst, "level");
    bench.state("samples", fmt::format("Worst sample: {}, reading error {} % ({}).", worst->sample,
                                       short_text(*worst->value),
                                       listed({text_of(*worst, "configuration"), text_of(*worst, "source"),
                                               level_lx ? short_text(*level_lx) + " lx" : std::string()})));
}

void evaluate_family(Bench& bench)
{
    const auto groups = groups_of(bench);
    for (const auto& group : groups)
        evaluate_group(bench, group);
    state_worst(bench, groups);
}

}  // namespace

Family samples_family()
{
    Family family;
    family.info.id = "samples";
    family.info.title = "Samples";
    family.info.question = "How far do units differ, and what may others of the series read?";
    family.info.method =
        "The reading errors of all samples under the same conditions are compared. The statistical tolerance "
        "interval holds, with 95 % confidence, at least 95 % of a normal population of which the samples are "
        "a random choice; its ends are widened by the expanded uncertainty that all samples share, which "
        "their scatter cannot show. Where samples were measured again, an analysis of variance parts units "
        "from repetitions.";
    family.info.formulas = {"s_units^2 = sum (e_i - mean(e))^2/(n - 1)", "mean(e) +- (k s + U_shared)",
                            "s_R^2 = s_r^2 + s_L^2"};
    const std::vector<std::string> conditions{"of", "configuration", "source", "level"};
    family.info.metrics = {
        {"unit_standard_deviation", "Standard deviation between units", "%", "s_units", conditions, false,
         "scatter of the reading error over the samples"},
        {"tolerance_interval_lower", "Tolerance interval, lower end", "%", "T_L", conditions, false,
         "lower end of the 95 %/95 % statistical tolerance interval of the reading error"},
        {"tolerance_interval_upper", "Tolerance interval, upper end", "%", "T_U", conditions, false,
         "upper end of the 95 %/95 % statistical tolerance interval of the reading error"},
        {"repeatability_standard_deviation", "Repeatability", "%", "s_r", conditions, false,
         "scatter of one sample measured again on one day by one operator"},
        {"reproducibility_standard_deviation", "Reproducibility", "%", "s_R", conditions, false,
         "scatter of one sample measured again on other days or by other operators"}};
    family.evaluate = evaluate_family;
    family.figures = samples_figures;
    return family;
}

}  // namespace luxdossier::metrics
