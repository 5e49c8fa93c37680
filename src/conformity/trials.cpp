#include "conformity/trials.hpp"

#include "conformity/conformity.hpp"
#include "conformity/selection.hpp"
#include "uncertainty/monte_carlo.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <string>

#include <fmt/format.h>

namespace luxdossier::conformity {
namespace {

using uncertainty::infinite;

/// A requirement and whose it is.
struct Asked {
    std::size_t limit = 0, result = 0;
};

/// The results that have trials, and the requirements on them.
struct Task {
    std::vector<uncertainty::MonteCarloTarget> targets;
    std::vector<std::size_t> results;  ///< of each target
    std::vector<uncertainty::Requirement> requirements;
    std::vector<Asked> asked;          ///< of each requirement
    std::vector<std::string> samples;  ///< of each set of requirements; empty: results without sample
};

/// The results that a limit selects.
std::set<std::size_t> judged_results(const model::Limits* limits, const model::Evaluation& evaluation)
{
    std::set<std::size_t> judged;
    if (limits != nullptr)
        for (const auto& limit : limits->limits)
            if (!limit.not_assessed)
                for (const auto index : selected_results(limit, evaluation))
                    judged.insert(index);
    return judged;
}

void add_targets(const model::Evaluation& evaluation, const std::optional<std::set<std::size_t>>& only,
                 TrialExtent extent, Task& task)
{
    for (std::size_t i = 0; i < evaluation.results.size(); ++i) {
        const auto& result = evaluation.results[i];
        if (!result.node || !result.combined || (only && !only->contains(i)))
            continue;
        task.targets.push_back({*result.node, result.combined, extent == TrialExtent::until_validated});
        task.results.push_back(i);
    }
}

/// Tolerance limits in the record unit of the result.
uncertainty::Requirement requirement_of(const model::Limit& limit, const Tolerance& tolerance)
{
    const auto in_record_unit = [&](double value) { return value * limit.unit_scale + limit.unit_offset; };
    uncertainty::Requirement requirement;
    if (tolerance.lower)
        requirement.lower = in_record_unit(*tolerance.lower);
    if (tolerance.upper)
        requirement.upper = in_record_unit(*tolerance.upper);
    if (limit.unit_scale < 0) {
        const auto lower = requirement.lower;
        requirement.lower = tolerance.upper ? requirement.upper : -infinite;
        requirement.upper = tolerance.lower ? lower : infinite;
    }
    return requirement;
}

void add_requirements(const model::Limits& limits, const model::Evaluation& evaluation, Task& task)
{
    for (std::size_t i = 0; i < limits.limits.size(); ++i) {
        const auto& limit = limits.limits[i];
        if (limit.not_assessed)
            continue;
        for (const auto index : selected_results(limit, evaluation)) {
            const auto& result = evaluation.results[index];
            const auto target = std::ranges::lower_bound(task.results, index);
            const auto tolerance = tolerance_of(limit, result);
            if (target == task.results.end() || *target != index || !result.undecided.empty() || !tolerance ||
                !tolerance->undecided.empty())
                continue;
            auto requirement = requirement_of(limit, tolerance->tolerance);
            requirement.target = static_cast<std::size_t>(target - task.results.begin());
            auto sample = std::ranges::find(task.samples, result.sample);
            if (sample == task.samples.end())
                sample = task.samples.insert(sample, result.sample);
            requirement.set = static_cast<std::size_t>(sample - task.samples.begin());
            task.requirements.push_back(requirement);
            task.asked.push_back({i, index});
        }
    }
}

std::vector<model::Joint> joint_of(const Task& task, const uncertainty::MonteCarlo& found)
{
    std::vector<model::Joint> joint;
    model::Joint all;
    all.product = 1;
    all.probability = found.all.probability;
    all.trials = found.all.trials;
    for (std::size_t set = 0; set < task.samples.size(); ++set)
        joint.push_back({task.samples[set], 0, found.sets[set].probability, 1, found.sets[set].trials});
    for (std::size_t i = 0; i < task.requirements.size(); ++i) {
        auto& own = joint[task.requirements[i].set];
        for (auto* one : {&own, &all}) {
            ++one->requirements;
            one->product *= found.probabilities[i];
        }
    }
    std::ranges::stable_sort(joint, {}, &model::Joint::sample);
    if (!joint.empty())
        joint.push_back(all);
    return joint;
}

/// Remarks on results, each kind told once for all of them.
class TrialRemarks {
public:
    explicit TrialRemarks(model::Evaluation& evaluation) : evaluation_(evaluation) {}
    void look_at(std::size_t index)
    {
        const auto& result = evaluation_.results[index];
        const auto& found = *result.monte_carlo;
        if (!found.standard_uncertainty && found.undefined == 0)
            no_variance_.push_back(index);
        if (found.undefined > 0) {
            undefined_.push_back(index);
            most_undefined_ = std::max(most_undefined_, static_cast<double>(found.undefined) /
                                                            static_cast<double>(found.trials));
        }
        if (result.is_judged_by_trials && !found.converged)
            unsettled_.push_back(index);
    }
    void add()
    {
        add({"no-variance",
             model::RemarkSeverity::note,
             "",
             counted(no_variance_, "rests on readings of two or fewer degrees of freedom",
                     "rest on readings of two or fewer degrees of freedom"),
             "their distribution has no variance: the trials give an interval and no standard uncertainty",
             "take more readings",
             no_variance_,
             {}});
        add({"undefined-trials",
             model::RemarkSeverity::concern,
             "",
             counted(undefined_, "has trials", "have trials") +
                 fmt::format(" in which the model is not defined (at most {:.2g} % of them)",
                             100 * most_undefined_),
             "these trials count as beyond both ends of the interval",
             "reduce the uncertainty of what is divided by or of which a logarithm is taken",
             undefined_,
             {}});
        add({"digits-not-reached",
             model::RemarkSeverity::note,
             "",
             counted(unsettled_, "is judged by trials whose interval has",
                     "are judged by trials whose intervals have") +
                 " not reached the stated digits within the permitted trials",
             "the tolerance that was reached stands in the record",
             "ask for fewer digits",
             unsettled_,
             {}});
    }

private:
    static std::string counted(const std::vector<std::size_t>& results, std::string_view one,
                               std::string_view more)
    {
        return fmt::format("{} result{} {}", results.size(), results.size() == 1 ? "" : "s",
                           results.size() == 1 ? one : more);
    }
    void add(model::Remark remark)
    {
        if (!remark.results.empty())
            evaluation_.remarks.push_back(std::move(remark));
    }

    model::Evaluation& evaluation_;
    std::vector<std::size_t> no_variance_, undefined_, unsettled_;
    double most_undefined_ = 0;
};

}  // namespace

std::optional<double> Trials::probability(std::size_t limit, std::size_t result) const
{
    const auto found = within.find({limit, result});
    return found == within.end() ? std::nullopt : std::optional(found->second);
}

Trials evaluate_by_trials(const model::Qualification& qualification, const model::Limits* limits,
                          model::Evaluation& evaluation, TrialExtent extent)
{
    Task task;
    std::optional<std::set<std::size_t>> only;
    if (qualification.evaluation.only_judged_trials)
        only = judged_results(limits, evaluation);
    add_targets(evaluation, only, extent, task);
    if (limits != nullptr)
        add_requirements(*limits, evaluation, task);
    uncertainty::MonteCarloSettings settings;
    settings.coverage_probability = evaluation.coverage_probability;
    settings.significant_digits = qualification.evaluation.significant_digits;
    settings.shortest = qualification.evaluation.shortest_interval;
    settings.seed = qualification.evaluation.seed;
    settings.largest_trials = qualification.evaluation.most_trials;
    auto found = uncertainty::run_monte_carlo(evaluation.graph, task.targets, task.requirements, settings);

    TrialRemarks remarks(evaluation);
    for (std::size_t i = 0; i < task.results.size(); ++i) {
        auto& result = evaluation.results[task.results[i]];
        result.monte_carlo = std::move(found.results[i]);
        const auto& validation = result.monte_carlo->validation;
        result.is_judged_by_trials = validation && !validation->validated && result.monte_carlo->interval;
        remarks.look_at(task.results[i]);
    }
    remarks.add();
    evaluation.trials = {found.trials_per_block, found.trials, settings.seed, settings.significant_digits,
                         only.has_value()};

    Trials trials;
    for (std::size_t i = 0; i < task.asked.size(); ++i)
        trials.within[{task.asked[i].limit, task.asked[i].result}] = found.probabilities[i];
    trials.joint = joint_of(task, found);
    return trials;
}

}  // namespace luxdossier::conformity
