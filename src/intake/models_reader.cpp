// User-stated measurement models: "models" of the header, and files of models alone.

#include "intake/models_reader.hpp"

#include "intake/formula_parser.hpp"
#include "intake/formula_units.hpp"
#include "intake/header.hpp"
#include "intake/intake.hpp"
#include "intake/named_file.hpp"
#include "uncertainty/expression.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <stdexcept>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

using uncertainty::Distribution;

constexpr std::string_view models_format = "luxdossier/models/1";

constexpr std::array<std::string_view, 7> distributions{"normal",      "rectangular", "triangular", "arcsine",
                                                        "trapezoidal", "t",           "readings"};
constexpr std::array distribution_of{
    Distribution::normal,      Distribution::rectangular, Distribution::triangular, Distribution::arcsine,
    Distribution::trapezoidal, Distribution::student_t,   Distribution::student_t};
constexpr std::size_t readings_index = 6;

/// u of a half-width (JCGM 101:2008, table 1).
double of_half_width(double half_width, Distribution distribution, double shape)
{
    switch (distribution) {
    case Distribution::triangular:
        return half_width / std::sqrt(6.0);
    case Distribution::arcsine:
        return half_width / std::sqrt(2.0);
    case Distribution::trapezoidal:
        return half_width * std::sqrt((1.0 + shape * shape) / 6.0);
    default:
        return half_width / std::sqrt(3.0);
    }
}

/// A key that the distribution has no use for is a fault where it stands.
void refuse(ObjectReader& reader, std::string_view key, std::string_view distribution,
            std::string_view advice)
{
    if (const auto* value = reader.find(key))
        reader.reading().fault(*value, fmt::format("found \"{}\" for distribution \"{}\"", key, distribution),
                               "none", std::string(advice));
}

void read_spread(ObjectReader& reader, std::string_view name, model::StatedInput& input)
{
    const auto distribution = input.distribution;
    const bool has_half_width =
        distribution != Distribution::normal && distribution != Distribution::student_t;
    if (distribution == Distribution::trapezoidal) {
        const auto shape = reader.required_number("shape", Range::not_negative);
        if (shape && *shape > 1.0)
            reader.reading().fault(*reader.find("shape"), fmt::format("found shape {}", *shape),
                                   "the ratio of top to base, 0 to 1");
        input.shape = std::min(shape.value_or(0.0), 1.0);
    } else {
        refuse(reader, "shape", name, "it is the ratio of top to base of a trapezium");
    }
    const auto degrees_of_freedom = distribution == Distribution::student_t
                                        ? reader.required_number("degrees_of_freedom", Range::positive)
                                        : reader.number("degrees_of_freedom", Range::positive);
    input.degrees_of_freedom = degrees_of_freedom.value_or(uncertainty::infinite);
    if (!has_half_width) {
        refuse(reader, "half_width", name, "write \"standard_uncertainty\"");
        input.standard_uncertainty =
            reader.required_number("standard_uncertainty", Range::not_negative).value_or(0.0);
        return;
    }
    const auto half_width = reader.number("half_width", Range::not_negative);
    const auto u = reader.number("standard_uncertainty", Range::not_negative);
    const bool has_half = reader.find("half_width") != nullptr;
    const auto* stated_u = reader.find("standard_uncertainty");
    if (has_half && stated_u != nullptr)
        reader.reading().fault(*stated_u, "found \"standard_uncertainty\" beside \"half_width\"",
                               "one of the two");
    else if (!has_half && stated_u == nullptr)
        (void)reader.require("half_width", "a plain number");
    input.standard_uncertainty =
        half_width ? of_half_width(*half_width, distribution, input.shape) : u.value_or(0.0);
}

void read_readings(ObjectReader& reader, model::StatedInput& input)
{
    constexpr std::string_view name = "readings";
    refuse(reader, "estimate", name, "it is the mean of the readings");
    refuse(reader, "standard_uncertainty", name, "it comes from the readings");
    refuse(reader, "half_width", name, "the uncertainty comes from the readings");
    refuse(reader, "shape", name, "it is the ratio of top to base of a trapezium");
    refuse(reader, "degrees_of_freedom", name, "they come from the number of readings");
    const auto* list = reader.require("readings", "a list of numbers");
    for (const auto& item : reader.items("readings")) {
        if (item.kind == JsonValue::Kind::number)
            input.readings.push_back(item.number);
        else
            reader.reading().fault(
                item, fmt::format("found {} among \"readings\"", reader.reading().describe(item)),
                "a plain number");
    }
    if (list != nullptr && list->kind == JsonValue::Kind::array && list->items.size() < 2)
        reader.reading().fault(
            *list, fmt::format("found {} reading{}", list->items.size(), list->items.size() == 1 ? "" : "s"),
            "two or more",
            "of one reading the spread is not known: state its uncertainty from other evidence");
    input.resolution = reader.number("resolution", Range::positive);
    input.time_ordered = reader.boolean("time_ordered").value_or(false);
}

model::StatedInput read_input(const JsonReading& reading, const JsonValue& value)
{
    ObjectReader reader(reading, &value, "input");
    model::StatedInput input;
    input.symbol = reader.required_text("symbol");
    if (!input.symbol.empty() && !is_symbol(input.symbol)) {
        reading.fault(*value.find("symbol"),
                      fmt::format("found symbol {}", diagnostics::quoted(input.symbol)),
                      "letters, digits and _, no digit first, and no name of a function",
                      "equations call the input by it");
    }
    input.quantity = reader.required_text("quantity");
    input.unit = reader.required_text("unit");
    if (!input.unit.empty() && canonical_unit(input.unit).empty())
        reading.fault(*value.find("unit"),
                      fmt::format("found unknown unit {}", diagnostics::quoted(input.unit)),
                      "a unit that udunits2 knows, such as lx, mm, K, % or 1");
    input.note = reader.text("note");
    const auto choice = reader.required_choice("distribution", distributions);
    if (choice == readings_index) {
        input.distribution = Distribution::student_t;
        read_readings(reader, input);
    } else {
        for (const auto* key : {"readings", "resolution", "time_ordered"})
            if (const auto* stray = reader.find(key); stray != nullptr && choice)
                reading.fault(
                    *stray, fmt::format("found \"{}\" for distribution \"{}\"", key, distributions[*choice]),
                    "none", "it belongs to distribution \"readings\"");
        input.estimate = reader.required_number("estimate").value_or(0.0);
        if (choice) {
            input.distribution = distribution_of[*choice];
            read_spread(reader, distributions[*choice], input);
        } else {  // known, so that they are not told as unknown keys
            for (const auto* key : {"standard_uncertainty", "half_width", "shape", "degrees_of_freedom"})
                (void)reader.find(key);
        }
    }
    reader.finish();
    return input;
}

/// Adds the faults of an equation, each with its column where the JSON text has no escapes.
void add_faults(const JsonReading& reading, const JsonValue& equation,
                const std::vector<FormulaFault>& faults)
{
    const bool is_plain = equation.length == equation.text.size() + 2;
    for (const auto& fault : faults) {
        const auto offset = is_plain ? equation.offset + 1 + fault.offset : equation.offset;
        auto made =
            reading.source.diagnostic(offset, is_plain ? fault.length : equation.length, equation.pointer);
        made.found = fault.found + " in the equation";
        made.expected = fault.expected;
        made.advice = fault.advice;
        reading.diagnostics.add(std::move(made));
    }
}

/// The symbol of an input of the model, or a fault.
bool is_input(const JsonReading& reading, const JsonValue& at, const model::StatedModel& model)
{
    if (at.kind != JsonValue::Kind::text) {
        reading.fault(at, fmt::format("found {}", reading.describe(at)), "the symbol of an input");
        return false;
    }
    std::vector<std::string_view> symbols;
    for (const auto& input : model.inputs)
        symbols.push_back(input.symbol);
    if (std::ranges::find(symbols, at.text) != symbols.end())
        return true;
    const auto near = diagnostics::nearest(at.text, symbols);
    reading.fault(at, fmt::format("found unknown symbol {}", diagnostics::quoted(at.text)),
                  near.empty() ? "the symbol of an input of this model" : fmt::format("\"{}\"", near));
    return false;
}

void read_observed_together(ObjectReader& reader, model::StatedModel& model)
{
    std::optional<std::size_t> count;
    for (const auto& item : reader.items("observed_together")) {
        if (!is_input(reader.reading(), item, model))
            continue;
        const auto& input = *std::ranges::find(model.inputs, item.text, &model::StatedInput::symbol);
        if (input.readings.empty())
            reader.reading().fault(item, fmt::format("found \"{}\", which has no readings", item.text),
                                   "an input of distribution \"readings\"");
        else if (count.value_or(input.readings.size()) != input.readings.size())
            reader.reading().fault(
                item, fmt::format("found {} readings of \"{}\"", input.readings.size(), item.text),
                fmt::format("{}, as of the inputs before it", *count));
        else if (std::ranges::find(model.observed_together, item.text) != model.observed_together.end())
            reader.reading().fault(item, fmt::format("found \"{}\" twice", item.text), "each symbol once");
        else
            model.observed_together.push_back(item.text);
        if (!input.readings.empty() && !count)
            count = input.readings.size();
    }
}

void read_correlations(ObjectReader& reader, model::StatedModel& model)
{
    for (const auto& item : reader.items("correlations")) {
        ObjectReader pair(reader.reading(), &item, "correlation");
        model::StatedCorrelation correlation;
        const auto* between = pair.require("between", "two symbols");
        const auto symbols = pair.items("between");
        const auto coefficient = pair.required_number("coefficient");
        pair.finish();
        if (coefficient && std::abs(*coefficient) > 1.0)
            reader.reading().fault(*item.find("coefficient"),
                                   fmt::format("found correlation coefficient {}", *coefficient), "-1 to 1");
        if (between == nullptr || between->kind != JsonValue::Kind::array)
            continue;
        if (symbols.size() != 2 ||
            (symbols[0].kind == JsonValue::Kind::text && symbols[0].text == symbols[1].text)) {
            reader.reading().fault(*between, "found no pair", "two symbols that differ");
            continue;
        }
        const bool first = is_input(reader.reading(), symbols[0], model);
        if (!is_input(reader.reading(), symbols[1], model) || !first)
            continue;
        for (const auto& symbol : symbols)
            if (std::ranges::find(model.observed_together, symbol.text) != model.observed_together.end())
                reader.reading().fault(symbol, fmt::format("found a correlation of \"{}\"", symbol.text),
                                       "none", "\"observed_together\" takes it from the readings");
        correlation = {symbols[0].text, symbols[1].text, coefficient.value_or(0.0)};
        const bool is_known =
            std::ranges::any_of(model.correlations, [&](const model::StatedCorrelation& one) {
                return (one.first == correlation.first && one.second == correlation.second) ||
                       (one.first == correlation.second && one.second == correlation.first);
            });
        if (is_known)
            reader.reading().fault(*between,
                                   fmt::format("found a second correlation between \"{}\" and \"{}\"",
                                               correlation.first, correlation.second),
                                   "one");
        else
            model.correlations.push_back(std::move(correlation));
    }
}

/// Correlations that contradict each other are refused; the graph's own check names the pair.
void check_correlations(const JsonReading& reading, const JsonValue& at, const model::StatedModel& model)
{
    uncertainty::GraphBuilder builder;
    uncertainty::InputGroup group{
        uncertainty::InputGroup::Kind::stated, "correlations", {}, {}, uncertainty::infinite};
    const auto size = model.inputs.size();
    group.covariance.assign(size * size, 0.0);
    const auto position = [&](const std::string& symbol) {
        return static_cast<std::size_t>(std::ranges::find(model.inputs, symbol, &model::StatedInput::symbol) -
                                        model.inputs.begin());
    };
    for (std::size_t i = 0; i < size; ++i) {
        uncertainty::InputQuantity quantity;
        quantity.identity = model.inputs[i].symbol;
        quantity.standard_uncertainty = 1.0;
        group.members.push_back(builder.input_of(builder.input(quantity)));
        group.covariance[i * size + i] = 1.0;
    }
    for (const auto& one : model.correlations) {
        const auto a = position(one.first), b = position(one.second);
        group.covariance[a * size + b] = group.covariance[b * size + a] = one.coefficient;
    }
    try {
        builder.group(std::move(group));
    } catch (const std::domain_error& fault) {
        reading.fault(at, fault.what());
    }
}

model::StatedModel read_model(const JsonReading& reading, const JsonValue& value)
{
    const auto faults_before = reading.diagnostics.all().size();
    ObjectReader reader(reading, &value, "model");
    model::StatedModel model;
    model.id = reader.required_id("id");
    model.title = reader.text("title");
    model.unit = reader.required_text("unit");
    if (!model.unit.empty() && canonical_unit(model.unit).empty())
        reading.fault(*value.find("unit"),
                      fmt::format("found unknown unit {}", diagnostics::quoted(model.unit)),
                      "a unit that udunits2 knows, such as lx, mm, K, % or 1");
    model.equation = reader.required_text("equation");
    (void)reader.require("inputs", "a list of input quantities");
    std::vector<std::string> symbols;
    for (const auto& item : reader.items("inputs")) {
        model.inputs.push_back(read_input(reading, item));
        const auto& symbol = model.inputs.back().symbol;
        if (!symbol.empty() && std::ranges::find(symbols, symbol) != symbols.end())
            reading.fault(*item.find("symbol"), fmt::format("found symbol \"{}\" a second time", symbol),
                          "each symbol once in a model");
        symbols.push_back(symbol);
    }
    if (!model.equation.empty()) {
        auto parsed = parse_formula(model.equation, symbols);
        add_faults(reading, *value.find("equation"), parsed.faults);
        model.formula = std::move(parsed.steps);
        for (std::size_t i = 0; i < symbols.size() && parsed.faults.empty(); ++i)
            if (std::ranges::find(model.formula, symbols[i], &model::FormulaStep::symbol) ==
                model.formula.end())
                if (const auto* at = value.find("inputs")->items[i].find("symbol"))
                    reading.fault(
                        *at, fmt::format("found input \"{}\", which the equation does not use", symbols[i]),
                        "", "correct the equation or leave the input out");
    }
    read_observed_together(reader, model);
    read_correlations(reader, model);
    reader.finish();
    const bool is_whole = reading.diagnostics.all().size() == faults_before;
    if (is_whole && !model.correlations.empty())
        check_correlations(reading, *value.find("correlations"), model);
    if (is_whole)
        model.unit_remarks = unit_remarks(model);
    return model;
}

}  // namespace

std::vector<model::StatedModel> read_models(ObjectReader& root, const model::MetricCatalogue& metrics)
{
    std::vector<model::StatedModel> models;
    UniqueIds ids("model");
    for (const auto& item : root.items("models")) {
        models.push_back(read_model(root.reading(), item));
        if (!models.back().id.empty() &&
            std::ranges::find(metrics, models.back().id, &model::MetricEntry::id) != metrics.end())
            root.reading().fault(
                *item.find("id"), fmt::format("found model \"{}\", the name of a metric", models.back().id),
                "an id of its own", "a limit could not tell the two apart: give the model another id");
        if (item.kind == JsonValue::Kind::object)
            ids.add(ObjectReader(root.reading(), &item, "model"), models.back().id);
    }
    return models;
}

std::optional<model::Qualification> read_models_file(std::string_view name, std::string_view content,
                                                     diagnostics::Diagnostics& diagnostics)
{
    diagnostics::Diagnostics own;
    const JsonText text{std::string(name), content};
    model::Qualification qualification;
    if (const auto root = parse_json(text, own)) {
        const JsonReading reading{text, own};
        ObjectReader reader(reading, &*root, "the file of models");
        check_format(reader, models_format);
        read_evaluation(reader, qualification.evaluation, false);
        const auto* models = reader.require("models", "a list of measurement models");
        qualification.models = read_models(reader);
        if (models != nullptr && models->kind == JsonValue::Kind::array && models->items.empty())
            reading.fault(*models, "found no model", "at least one");
        reader.finish();
    }
    own.sort_by_location();
    diagnostics.append(own);
    return own.has_errors() ? std::nullopt : std::optional(std::move(qualification));
}

}  // namespace luxdossier::intake
