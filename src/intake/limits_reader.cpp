#include "intake/curve_reader.hpp"
#include "intake/header.hpp"
#include "intake/intake.hpp"
#include "intake/limits_where.hpp"
#include "intake/named_file.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr std::string_view format_name = "luxdossier/limits/1";
constexpr std::string_view rule_advice =
    "simple-acceptance decides on the value alone; guarded-acceptance draws the limits in by the guard band; "
    "four-outcome adds conditional pass and conditional fail inside the guard bands (ILAC-G8)";

/// Reads one limits file.
class LimitsReader {
public:
    LimitsReader(const JsonReading& reading, const Files& files, const model::Qualification* qualification,
                 const model::MetricCatalogue& catalogue, std::vector<model::InputFile>& read_files)
        : reading_(reading), files_(files), offer_(offer_of(qualification)), catalogue_(catalogue),
          read_files_(read_files)
    {
    }
    model::Limits read(const JsonValue& root);
    [[nodiscard]] const std::vector<std::string>& mask_names() const { return mask_names_; }

private:
    std::optional<model::DecisionRule> read_rule(ObjectReader& owner);
    model::Limit read_limit(const JsonValue& item);
    const model::MetricEntry* read_metric(ObjectReader& reader, model::Limit& limit);
    void read_bounds(ObjectReader& reader, const model::MetricEntry& metric, model::Limit& limit);
    void read_unit_of_bounds(ObjectReader& reader, const model::MetricEntry& metric, model::Limit& limit);
    void read_plus_minus(ObjectReader& reader, const model::MetricEntry& metric, model::Limit& limit);
    void read_mask_of(ObjectReader& reader, const model::MetricEntry& metric, model::Limit& limit);
    void check_only_kind(ObjectReader& reader);

    const JsonReading& reading_;
    const Files& files_;
    Offer offer_;
    const model::MetricCatalogue& catalogue_;
    std::vector<model::InputFile>& read_files_;
    std::vector<std::string> mask_names_;
};

std::optional<model::DecisionRule> LimitsReader::read_rule(ObjectReader& owner)
{
    static constexpr std::array<std::string_view, 3> kinds{"simple-acceptance", "guarded-acceptance",
                                                           "four-outcome"};
    auto reader = owner.object("decision_rule", "decision_rule");
    if (!reader.is_object())
        return std::nullopt;
    model::DecisionRule rule;
    const auto kind = reader.required_choice("kind", kinds);
    rule.kind = static_cast<model::RuleKind>(kind.value_or(0));
    const auto multiple = reader.number("guard_band_multiple", Range::positive);
    rule.guard_band_multiple = multiple.value_or(1.0);
    if (kind && rule.kind == model::RuleKind::simple_acceptance &&
        reader.find("guard_band_multiple") != nullptr)
        reading_.fault(*reader.find("guard_band_multiple"), "found a guard band under simple acceptance",
                       "a rule with a guard band, or no \"guard_band_multiple\"", std::string(rule_advice));
    reader.finish();
    return rule;
}

const model::MetricEntry* LimitsReader::read_metric(ObjectReader& reader, model::Limit& limit)
{
    const auto* value = reader.require("metric", "the id of a metric");
    if (value == nullptr)
        return nullptr;
    const auto text = text_of(reading_, *value, "metric");
    if (!text)
        return nullptr;
    limit.metric = *text;
    const auto found = std::ranges::find(catalogue_, *text, &model::MetricEntry::id);
    if (found != catalogue_.end())
        return &*found;
    std::vector<std::string_view> ids;
    for (const auto& entry : catalogue_)
        ids.push_back(entry.id);
    const auto near = diagnostics::nearest(*text, ids);
    reading_.fault(*value, fmt::format("found unknown metric {}", diagnostics::quoted(*text)),
                   near.empty() ? "the id of a metric" : fmt::format("\"{}\"", near),
                   near.empty() ? "the reference lists all metrics with their conditions and units" : "");
    return nullptr;
}

/// Exactly one of bounds, plus_minus and mask.
void LimitsReader::check_only_kind(ObjectReader& reader)
{
    const auto& limit = reader.value();
    const auto has_bounds = limit.find("lower") != nullptr || limit.find("upper") != nullptr;
    const auto kinds = (has_bounds ? 1 : 0) + (limit.find("plus_minus") != nullptr ? 1 : 0) +
                       (limit.find("mask") != nullptr ? 1 : 0);
    if (kinds == 0)
        reading_.fault(limit, "found a limit without bounds",
                       "\"lower\" or \"upper\" or both, \"plus_minus\", \"mask\" or \"not_assessed\"");
    else if (kinds > 1)
        reading_.fault(limit, "found several kinds of bounds in one limit",
                       "exactly one of \"lower\" with \"upper\", \"plus_minus\" and \"mask\"",
                       "write a limit of its own for each");
}

void LimitsReader::read_unit_of_bounds(ObjectReader& reader, const model::MetricEntry& metric,
                                       model::Limit& limit)
{
    const auto* unit = reader.require("unit", fmt::format("\"{}\"", metric.unit));
    if (unit == nullptr)
        return;
    const auto text = text_of(reading_, *unit, "unit");
    if (!text)
        return;
    limit.unit = *text;
    const auto answer = convert_unit(*text, metric.unit);
    if (answer.state == UnitState::known) {
        limit.unit_scale = answer.conversion.scale;
        limit.unit_offset = answer.conversion.offset;
        return;
    }
    const auto* const kind = answer.state == UnitState::unknown ? "unknown unit" : "unit";
    const auto advice = unit_advice(*text, {metric.unit, "a metric"});
    reading_.fault(
        *unit, fmt::format("found {} {} for metric \"{}\"", kind, diagnostics::quoted(*text), metric.id),
        fmt::format("a unit that converts to {}", metric.unit == "1" ? "1, such as %" : metric.unit), advice);
}

void LimitsReader::read_bounds(ObjectReader& reader, const model::MetricEntry& metric, model::Limit& limit)
{
    limit.lower = reader.number("lower");
    limit.upper = reader.number("upper");
    const auto& value = reader.value();
    const auto has_bounds = value.find("lower") != nullptr || value.find("upper") != nullptr;
    if (has_bounds || value.find("mask") != nullptr)
        read_unit_of_bounds(reader, metric, limit);
    else if (const auto* unit = reader.find("unit"); unit != nullptr && value.find("plus_minus") != nullptr)
        reading_.fault(*unit, "found \"unit\" beside \"plus_minus\"", "no \"unit\"",
                       "plus_minus is in lx: \"fixed\" states its own unit");
    if (limit.lower && limit.upper && *limit.lower >= *limit.upper)
        reading_.fault(
            *value.find("upper"),
            fmt::format("found upper bound {} not above lower bound {}", *limit.upper, *limit.lower),
            "lower below upper");
}

void LimitsReader::read_plus_minus(ObjectReader& reader, const model::MetricEntry& metric,
                                   model::Limit& limit)
{
    static constexpr std::array<std::string_view, 2> combinations{"sum", "greater"};
    auto compound = reader.object("plus_minus", "\"plus_minus\"");
    if (!compound.is_object())
        return;
    model::PlusMinus read;
    const auto percent = compound.number("percent_of_level", Range::positive);
    if (percent)
        read.fraction_of_level = *percent / 100.0;
    read.fixed_lx = compound.plain("fixed", illuminance, Range::positive);
    read.greater = compound.choice("combine", combinations) == 1;
    compound.finish();
    if (compound.find("percent_of_level") == nullptr && compound.find("fixed") == nullptr)
        reading_.fault(compound.value(), "found neither \"percent_of_level\" nor \"fixed\" in \"plus_minus\"",
                       "one of them or both");
    if (metric.unit != "lx")
        reading_.fault(compound.value(),
                       fmt::format("found \"plus_minus\" for metric \"{}\" in {}", metric.id, metric.unit),
                       "a metric in lx", "state \"lower\" and \"upper\" instead");
    limit.plus_minus = read;
}

void LimitsReader::read_mask_of(ObjectReader& reader, const model::MetricEntry& metric, model::Limit& limit)
{
    auto mask = reader.object("mask", "\"mask\"");
    if (!mask.is_object())
        return;
    const auto* file = mask.require("file", "the name of a CSV file");
    const auto along = mask.required_text("along");
    mask.finish();
    if (!along.empty() && along != "angle")
        reading_.fault(*mask.find("along"), fmt::format("found {} for \"along\"", diagnostics::quoted(along)),
                       "\"angle\"");
    else if (!along.empty() && std::ranges::find(metric.conditions, along) == metric.conditions.end())
        reading_.fault(mask.value(), fmt::format("found a mask for metric \"{}\"", metric.id),
                       "a metric with the condition angle");
    const auto path = file == nullptr ? std::string() : read_path(reading_, *file);
    if (path.empty())
        return;
    const auto known = std::ranges::find(read_files_, path, &model::InputFile::path);
    const auto is_known = known != read_files_.end();
    auto content = is_known ? answer_of(*known) : std::nullopt;
    if (!content)
        content = read_named_file(files_, path, *file, reading_);
    if (!content)
        return;
    if (!is_known)
        read_files_.push_back({path, content->content, "", content->size, "mask of " + limit.id});
    mask_names_.push_back(path);
    limit.mask = read_mask(path, *content, reading_.diagnostics);
}

model::Limit LimitsReader::read_limit(const JsonValue& item)
{
    model::Limit limit;
    ObjectReader reader(reading_, &item, "limit");
    if (!reader.is_object())
        return limit;
    limit.id = reader.required_id("id");
    limit.clause = reader.text("clause");
    limit.title = reader.text("title");
    limit.reference = reader.text("reference");
    limit.not_assessed = reader.optional_text("not_assessed");
    if (item.find("not_assessed") != nullptr) {
        for (const auto* key : {"lower", "upper", "plus_minus", "mask", "decision_rule", "expects"}) {
            if (const auto* other = reader.find(key))
                reading_.fault(*other, fmt::format("found \"{}\" beside \"not_assessed\"", key),
                               "one of them", "a limit that is not assessed has a reason and no bounds");
        }
        for (const auto* key : {"metric", "where", "unit"}) {
            if (const auto* other = reader.find(key))
                reading_.fault(*other, fmt::format("found \"{}\" beside \"not_assessed\"", key),
                               "one of them",
                               "say in words what is not assessed, under \"title\" or \"reference\"");
        }
        if (limit.not_assessed && limit.not_assessed->empty())
            reading_.fault(*item.find("not_assessed"), "found no reason why the limit is not assessed",
                           "text");
        reader.finish();
        return limit;
    }
    const auto* metric = read_metric(reader, limit);
    const auto* where = reader.find("where");
    const auto* expects = reader.find("expects");
    limit.rule = read_rule(reader);
    check_only_kind(reader);
    for (const auto* key : {"lower", "upper", "unit", "plus_minus", "mask"})
        (void)reader.find(key);
    if (metric == nullptr) {
        reader.finish();
        return limit;
    }
    if (where != nullptr)
        limit.where = read_where(reading_, *where, *metric, offer_);
    read_bounds(reader, *metric, limit);
    read_plus_minus(reader, *metric, limit);
    read_mask_of(reader, *metric, limit);
    if (expects != nullptr)
        limit.expects = read_expects(reading_, *expects, *metric, offer_);
    reader.finish();
    return limit;
}

model::Limits LimitsReader::read(const JsonValue& root)
{
    model::Limits limits;
    ObjectReader reader(reading_, &root, "the limits file");
    check_format(reader, format_name);
    limits.title = reader.text("title");
    limits.revision = reader.text("revision");
    limits.agreed_with = reader.text("agreed_with");
    limits.agreed_on = reader.date("agreed_on");
    if (root.find("decision_rule") == nullptr)
        reading_.fault(root, "found no \"decision_rule\" in the limits file",
                       "\"decision_rule\": {\"kind\": \"simple-acceptance\", \"guarded-acceptance\" or "
                       "\"four-outcome\"}",
                       fmt::format("there is no default: {}", rule_advice));
    limits.rule = read_rule(reader).value_or(model::DecisionRule{});
    const auto* list = reader.require("limits", "an array of limits");
    std::vector<std::string> ids;
    for (const auto& item : reader.items("limits")) {
        auto limit = read_limit(item);
        if (!limit.id.empty() && std::ranges::find(ids, limit.id) != ids.end())
            reading_.fault(*item.find("id"), fmt::format("found limit id \"{}\" twice", limit.id),
                           "an id of its own for each", "rename one of the two");
        ids.push_back(limit.id);
        limits.limits.push_back(std::move(limit));
    }
    if (list != nullptr && list->kind == JsonValue::Kind::array && list->items.empty())
        reading_.fault(*list, "found no limit", "at least one",
                       "leave the limits file out for a report without verdicts");
    reader.finish();
    return limits;
}

std::optional<model::Limits> read_with(std::string_view name, std::string_view content, const Files& files,
                                       const model::Qualification* qualification,
                                       const model::MetricCatalogue& catalogue,
                                       std::vector<model::InputFile>& read_files,
                                       diagnostics::Diagnostics& diagnostics)
{
    const JsonText text{std::string(name), content};
    diagnostics::Diagnostics own;
    std::vector<std::string> order{std::string(name)};
    std::optional<model::Limits> limits;
    if (const auto root = parse_json(text, own)) {
        const JsonReading reading{text, own};
        read_files.push_back({std::string(name), std::string(content), "", content.size(), "limits"});
        LimitsReader reader(reading, files, qualification, catalogue, read_files);
        limits = reader.read(*root);
        limits->file = std::string(name);
        order.insert(order.end(), reader.mask_names().begin(), reader.mask_names().end());
    }
    own.sort_by_location(order);
    diagnostics.append(own);
    return own.has_errors() ? std::nullopt : std::move(limits);
}

}  // namespace

std::optional<model::Limits> read_limits(std::string_view name, std::string_view content, const Files& files,
                                         const model::Qualification& qualification,
                                         const model::MetricCatalogue& catalogue,
                                         std::vector<model::InputFile>& read_files,
                                         diagnostics::Diagnostics& diagnostics)
{
    return read_with(name, content, files, &qualification, catalogue, read_files, diagnostics);
}

void check_limits(std::string_view name, std::string_view content, const Files& files,
                  const model::MetricCatalogue& catalogue, diagnostics::Diagnostics& diagnostics)
{
    std::vector<model::InputFile> read_files;
    (void)read_with(name, content, files, nullptr, catalogue, read_files, diagnostics);
}

}  // namespace luxdossier::intake
