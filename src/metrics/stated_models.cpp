#include "metrics/stated_models.hpp"

#include "statistics/lag_one.hpp"
#include "statistics/summary.hpp"
#include "uncertainty/derivative.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::metrics {
namespace {

using model::StatedInput;
using model::StatedModel;
using uncertainty::InputGroup;
using uncertainty::Operation;

/// What two models must share for an input of theirs to be one: its statement and that of its group.
struct Statement {
    StatedInput input;
    std::vector<StatedInput> observed_together;
    std::vector<StatedInput> correlated;
    std::vector<model::StatedCorrelation> correlations;
    bool operator==(const Statement&) const = default;
};

const StatedInput& input_of(const StatedModel& model, const std::string& symbol)
{
    return *std::ranges::find(model.inputs, symbol, &StatedInput::symbol);
}

bool is_correlated(const StatedModel& model, const std::string& symbol)
{
    return std::ranges::any_of(model.correlations, [&](const model::StatedCorrelation& one) {
        return one.first == symbol || one.second == symbol;
    });
}

std::vector<StatedInput> correlated_inputs(const StatedModel& model)
{
    std::vector<StatedInput> members;
    std::ranges::copy_if(model.inputs, std::back_inserter(members),
                         [&](const StatedInput& input) { return is_correlated(model, input.symbol); });
    return members;
}

Statement statement_of(const StatedModel& model, const StatedInput& input)
{
    Statement statement{input, {}, {}, {}};
    if (std::ranges::find(model.observed_together, input.symbol) != model.observed_together.end())
        for (const auto& symbol : model.observed_together)
            statement.observed_together.push_back(input_of(model, symbol));
    if (is_correlated(model, input.symbol)) {
        statement.correlated = correlated_inputs(model);
        statement.correlations = model.correlations;
    }
    return statement;
}

/// An input of a model as part of the graph.
struct BuiltInput {
    Expression mean;   ///< the input itself
    Expression total;  ///< with its resolution, where that counts
    double variance_factor = 1;
};

class Builder {
public:
    explicit Builder(Bench& bench) : bench_(bench) {}

    void add(const StatedModel& model)
    {
        std::map<std::string, BuiltInput> inputs;
        for (const auto& input : model.inputs)
            inputs.emplace(input.symbol, build(model, input));
        add_observed_together(model, inputs);
        add_correlations(model, inputs);
        model::Result result;
        result.metric = model.id;
        result.unit = model.unit;
        Trail trail;
        for (const auto& text : model.unit_remarks)
            trail.remarks.push_back(bench_.remark({"stated-units",
                                                   model::RemarkSeverity::concern,
                                                   "",
                                                   fmt::format("model {}: {}", model.id, text),
                                                   "the numbers are used as written",
                                                   "state inputs in units that fit the equation",
                                                   {},
                                                   {}}));
        try {
            const auto value = compute(model, inputs);
            if (std::isfinite(value.value()))
                bench_.add(std::move(result), {value.named(model.id), std::move(trail)});
            else
                bench_.add_undecided(std::move(result), "the equation has no finite value at the estimates",
                                     trail);
        } catch (const std::domain_error& fault) {
            bench_.add_undecided(std::move(result), fault.what(), trail);
        }
    }

private:
    /// "stated:x", or "stated:MODEL/x" where another model states x otherwise.
    std::string identity_of(const StatedModel& model, const StatedInput& input)
    {
        auto statement = statement_of(model, input);
        const auto [known, is_new] = statements_.try_emplace(input.symbol, statement);
        return is_new || known->second == statement ? "stated:" + input.symbol
                                                    : fmt::format("stated:{}/{}", model.id, input.symbol);
    }

    BuiltInput build(const StatedModel& model, const StatedInput& input)
    {
        uncertainty::InputQuantity quantity;
        quantity.identity = identity_of(model, input);
        quantity.quantity = input.quantity;
        quantity.symbol = input.symbol;
        quantity.unit = input.unit;
        quantity.note = input.note;
        quantity.distribution = input.distribution;
        quantity.shape = input.shape;
        quantity.estimate = input.estimate;
        quantity.standard_uncertainty = input.standard_uncertainty;
        quantity.degrees_of_freedom = input.degrees_of_freedom;
        if (input.readings.empty()) {
            const auto expression = bench_.input(quantity);
            return {expression, expression, 1.0};
        }
        const auto summary = statistics::summarise(input.readings);
        const double n = static_cast<double>(summary.n);
        statistics::Autocorrelation lag;
        lag.degrees_of_freedom = n - 1.0;
        if (input.time_ordered)
            lag = statistics::autocorrelation(input.readings);
        quantity.estimate = summary.mean;
        quantity.standard_uncertainty = summary.standard_deviation * std::sqrt(lag.variance_factor / n);
        quantity.degrees_of_freedom = lag.degrees_of_freedom;
        quantity.evaluation = uncertainty::Evaluation::type_a;
        const auto text =
            fmt::format("mean of {} readings{}", summary.n,
                        lag.significant ? fmt::format(", autocorrelated (r1 = {:.2f})", lag.r1) : "");
        quantity.note = quantity.note.empty() ? text : quantity.note + "; " + text;
        const auto mean = bench_.input(quantity);
        return {mean, with_resolution(quantity, input, mean, summary.standard_deviation),
                lag.variance_factor};
    }

    Expression with_resolution(const uncertainty::InputQuantity& mean, const StatedInput& input,
                               const Expression& expression, double standard_deviation)
    {
        if (!input.resolution || standard_deviation >= *input.resolution / 2.0)
            return expression;
        uncertainty::InputQuantity step;
        step.identity = mean.identity + "/resolution";
        step.quantity = input.quantity + ", resolution";
        step.symbol = "q_" + input.symbol;
        step.unit = input.unit;
        step.standard_uncertainty = *input.resolution / std::sqrt(12.0);
        step.distribution = uncertainty::Distribution::rectangular;
        step.note = fmt::format("step {} {}", *input.resolution, input.unit);
        return expression + bench_.input(step);
    }

    /// Adds a group unless a model before has stated it.
    void add_group(InputGroup group)
    {
        if (group.members.size() >= 2 && !bench_.builder().graph().group_of(group.members.front()))
            bench_.builder().group(std::move(group));
    }

    void add_observed_together(const StatedModel& model, const std::map<std::string, BuiltInput>& inputs)
    {
        const auto& symbols = model.observed_together;
        const auto size = symbols.size();
        if (size < 2)
            return;
        InputGroup group;
        group.kind = InputGroup::Kind::observed_together;
        group.covariance.assign(size * size, 0.0);
        double factor = 1.0;  // the whole matrix is inflated by the largest autocorrelation
        for (const auto& symbol : symbols)
            factor = std::max(factor, inputs.at(symbol).variance_factor);
        for (std::size_t i = 0; i < size; ++i) {
            const auto input = bench_.builder().input_of(inputs.at(symbols[i]).mean);
            const auto& quantity = bench_.builder().graph().inputs()[input.index];
            group.members.push_back(input);
            group.identity += (i == 0 ? "" : ", ") + quantity.identity;
            group.degrees_of_freedom = std::min(group.degrees_of_freedom, quantity.degrees_of_freedom);
            group.covariance[i * size + i] = quantity.standard_uncertainty * quantity.standard_uncertainty;
            const auto& a = input_of(model, symbols[i]).readings;
            for (std::size_t j = 0; j < i; ++j) {
                const auto other = group.members[j];
                const double most = quantity.standard_uncertainty *
                                    bench_.builder().graph().inputs()[other.index].standard_uncertainty;
                const double covariance = statistics::covariance(a, input_of(model, symbols[j]).readings) *
                                          factor / static_cast<double>(a.size());
                // Readings that depend on each other exactly: rounding must not lift the correlation above 1.
                group.covariance[i * size + j] = group.covariance[j * size + i] =
                    std::clamp(covariance, -most, most);
            }
        }
        add_group(std::move(group));
    }

    void add_correlations(const StatedModel& model, const std::map<std::string, BuiltInput>& inputs)
    {
        const auto members = correlated_inputs(model);
        const auto size = members.size();
        InputGroup group;
        group.kind = InputGroup::Kind::stated;
        group.covariance.assign(size * size, 0.0);
        std::vector<double> u;
        for (std::size_t i = 0; i < size; ++i) {
            const auto input = bench_.builder().input_of(inputs.at(members[i].symbol).mean);
            const auto& quantity = bench_.builder().graph().inputs()[input.index];
            group.members.push_back(input);
            group.identity += (i == 0 ? "" : ", ") + quantity.identity;
            group.degrees_of_freedom = std::min(group.degrees_of_freedom, quantity.degrees_of_freedom);
            u.push_back(quantity.standard_uncertainty);
            group.covariance[i * size + i] = u[i] * u[i];
        }
        const auto position = [&](const std::string& symbol) {
            return static_cast<std::size_t>(std::ranges::find(members, symbol, &StatedInput::symbol) -
                                            members.begin());
        };
        for (const auto& one : model.correlations) {
            const auto a = position(one.first), b = position(one.second);
            group.covariance[a * size + b] = group.covariance[b * size + a] = one.coefficient * u[a] * u[b];
        }
        add_group(std::move(group));
    }

    Expression compute(const StatedModel& model, const std::map<std::string, BuiltInput>& inputs)
    {
        std::vector<Expression> stack;
        for (const auto& step : model.formula) {
            if (step.operation == Operation::input) {
                stack.push_back(inputs.at(step.symbol).total);
            } else if (step.operation == Operation::constant) {
                stack.push_back(bench_.constant(step.number));
            } else if (uncertainty::operand_count(step.operation) > 1) {
                const auto right = stack.back();
                stack.pop_back();
                stack.back() = uncertainty::apply(step.operation, stack.back(), right);
            } else {
                stack.back() = uncertainty::apply(step.operation, stack.back());
            }
        }
        // An equation that is one symbol or number gets a node of its own.
        return model.formula.size() > 1 ? stack.back() : stack.back() * 1.0;
    }

    Bench& bench_;
    std::map<std::string, Statement> statements_;
};

}  // namespace

void evaluate_stated_models(Bench& bench)
{
    Builder builder(bench);
    for (const auto& model : bench.qualification().models)
        builder.add(model);
}

model::FamilyInfo stated_models_info(const model::Qualification& qualification)
{
    model::FamilyInfo info;
    info.id = "stated-models";
    info.title = "Stated measurement models";
    info.question = "What follows from the measurement models that the header states?";
    info.method = "Each model is evaluated as its equation stands; readings give a mean with s/sqrt(n) and n "
                  "- 1 degrees "
                  "of freedom, everything else is as stated.";
    for (const auto& model : qualification.models) {
        info.formulas.push_back(fmt::format("{} = {}", model.id, model.equation));
        info.metrics.push_back({model.id,
                                model.title.empty() ? model.id : model.title,
                                model.unit,
                                model.id,
                                {},
                                false,
                                model.title});
    }
    return info;
}

}  // namespace luxdossier::metrics
