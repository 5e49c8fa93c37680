#include "model/deviations.hpp"
#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

// Drops columns in which no row says anything, the first one aside.
Table without_empty_columns(Table table)
{
    for (std::size_t c = table.columns.size(); c-- > 1;) {
        const bool empty = std::ranges::all_of(
            table.rows, [&](const Row& row) { return row.spanning || row.cells.at(c).text.empty(); });
        if (!empty)
            continue;
        table.columns.erase(table.columns.begin() + static_cast<std::ptrdiff_t>(c));
        for (auto& row : table.rows) {
            if (!row.spanning)
                row.cells.erase(row.cells.begin() + static_cast<std::ptrdiff_t>(c));
        }
    }
    return table;
}

Blocks table_block(Table table)
{
    if (table.rows.empty())
        return {};
    return {without_empty_columns(std::move(table))};
}

std::string percent_of(double fraction)
{
    return with_unit(stated_text(std::round(fraction * 1e12) / 1e10), "%");
}

// A figure that went through a change of unit, without the rounding that this left in its last digits.
std::string as_written(double value)
{
    return stated_text(rounded_to_digits(value, 9));
}

// Written units of one canonical unit; absent where the value is 0 and the unit is not one of the bench's
// own.
std::optional<double> factor_to(const model::Quantity& quantity)
{
    if (quantity.value != 0)
        return quantity.written_value / quantity.value;
    if (quantity.written_unit == quantity.unit)
        return 1;
    if (quantity.written_unit == "mm")
        return 1000;
    if (quantity.written_unit == "degree")
        return 180 / std::numbers::pi;
    return std::nullopt;
}

// A stated quantity with what it says of its uncertainty, in the unit of the file.
std::string stated_quantity(const model::Quantity& quantity)
{
    const bool written = !quantity.written_unit.empty();
    const double value = written ? quantity.written_value : quantity.value;
    const std::string& unit = written ? quantity.written_unit : quantity.unit;
    std::string text = with_unit(stated_text(value), unit);
    const auto factor = written ? factor_to(quantity) : std::optional<double>();
    const double scale = factor.value_or(1);
    const std::string& shown = factor ? unit : quantity.unit;
    if (quantity.half_width)
        text += fmt::format(", half-width {}", with_unit(as_written(*quantity.half_width * scale), shown));
    else if (quantity.standard_uncertainty)
        text += fmt::format(", u = {}", with_unit(as_written(*quantity.standard_uncertainty * scale), shown));
    if (!quantity.note.empty())
        text += fmt::format(" ({})", quantity.note);
    return text;
}

std::string supply_text(const model::Source& source)
{
    std::string text = source.supply == "dc" ? "DC" : source.supply == "pwm" ? "PWM" : source.supply;
    if (source.supply_frequency_hz)
        text += fmt::format(", {}", with_unit(stated_text(*source.supply_frequency_hz), "Hz"));
    return text;
}

std::string run_conditions(const model::Run& run)
{
    std::vector<std::string> parts;
    for (const auto& part : {run.sample, run.configuration, run.source}) {
        if (!part.empty())
            parts.push_back(part);
    }
    for (const auto& [name, value] : run.conditions) {
        if (name != "own_light")
            parts.push_back(condition_phrase(name, value));
    }
    if (auto join = model::join_words(run); !join.empty())
        parts.push_back(std::move(join));
    return fmt::format("{}", fmt::join(parts, ", "));
}

// Runs that differ only in the combination of their conditions share an id: told in one row.
struct RunGroup {
    const model::Run* first = nullptr;
    std::size_t combinations = 0, readings = 0;
    bool one_own_light = true;  ///< all combinations share the state of the product's own light
};

std::vector<RunGroup> run_groups(const std::vector<model::Run>& runs)
{
    std::vector<RunGroup> groups;
    for (const auto& run : runs) {
        if (groups.empty() || groups.back().first->id != run.id)
            groups.push_back({&run});
        const auto own_light = [](const model::Run& one) {
            const auto found = one.conditions.find("own_light");
            return found == one.conditions.end() ? model::ConditionValue() : found->second;
        };
        groups.back().one_own_light &= own_light(run) == own_light(*groups.back().first);
        ++groups.back().combinations;
        groups.back().readings += run.rows.size();
    }
    return groups;
}

// What heads the runs of one kind: "Comparison, side by side, meter M1, own light off".
std::string run_heading(const RunGroup& group)
{
    const auto& run = *group.first;
    std::string kind = capitalised(model::run_kind_text(run.kind));
    std::ranges::replace(kind, '_', ' ');
    std::vector<std::string> parts{kind};
    if (run.method)
        parts.emplace_back(*run.method == model::Method::side_by_side ? "side by side" : "substitution");
    if (!run.meter.empty())
        parts.push_back("meter " + run.meter);
    if (const auto own_light = run.conditions.find("own_light");
        own_light != run.conditions.end() && group.one_own_light)
        parts.push_back(condition_phrase("own_light", own_light->second));
    return fmt::format("{}", fmt::join(parts, ", "));
}

std::string started_text(const model::TimePoint& time)
{
    const auto day = time.date();
    const double day_start = static_cast<double>(day.time_since_epoch().count()) * 86400.0;
    const int minutes = static_cast<int>((time.seconds - day_start) / 60.0);
    return fmt::format("{} {:02}:{:02}", model::date_text(day), minutes / 60, minutes % 60);
}

}  // namespace

Blocks samples(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("Samples");
    table.columns = {column("Sample"),
                     column("Description", Alignment::left, 2),
                     column("Serial"),
                     column("Firmware"),
                     column("Condition", Alignment::left, 2),
                     column("State as received", Alignment::left, 2)};
    for (const auto& sample : dossier.qualification.samples) {
        Row row;
        row.cells = {cell(sample.id),       cell(sample.description), cell(sample.serial),
                     cell(sample.firmware), cell(sample.condition),   cell(sample.received)};
        table.rows.push_back(std::move(row));
    }
    Blocks blocks = table_block(std::move(table));
    const auto& product = dossier.qualification.product;
    std::vector<std::string> facts;
    if (product.resolution)
        facts.push_back("resolution of the reading " + stated_quantity(*product.resolution));
    if (product.scale)
        facts.push_back(fmt::format("scale {}\u202flx per count", stated_text(*product.scale)));
    if (product.ceiling)
        facts.push_back("ceiling " + stated_quantity(*product.ceiling));
    if (product.integration_time)
        facts.push_back("integration time " + stated_quantity(*product.integration_time));
    if (product.own_light)
        facts.emplace_back(*product.own_light ? "with light of its own" : "without light of its own");
    if (!facts.empty())
        blocks.push_back(Paragraph{plain(fmt::format("Sensor of the product: {}.", fmt::join(facts, "; ")))});
    return blocks;
}

Blocks configurations(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("Configurations");
    table.columns = {column("Configuration"), column("Description", Alignment::left, 2),
                     column("Applied factor", Alignment::decimal), column("Angular target"),
                     column("Angular reference")};
    for (const auto& configuration : dossier.qualification.configurations) {
        std::string target = configuration.target_is_cosine ? "cosine" : "";
        if (configuration.target)
            target = configuration.target->file;
        std::string description = configuration.description;
        if (configuration.id == dossier.qualification.reference_configuration)
            description += description.empty() ? "reference configuration" : " (reference configuration)";
        Row row;
        row.cells = {cell(configuration.id), cell(description),
                     cell(configuration.applied_factor ? stated_text(*configuration.applied_factor) : ""),
                     cell(target), cell(configuration.reference_is_peak ? "peak" : "axis")};
        table.rows.push_back(std::move(row));
    }
    return table_block(std::move(table));
}

Blocks sources(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("Sources");
    table.columns = {column("Source"),   column("Kind"),          column("Description", Alignment::left, 2),
                     column("Supply"),   column("Levels set by"), column("Settling tolerance"),
                     column("Spectrum"), column("Risk group")};
    for (const auto& source : dossier.qualification.sources) {
        std::string description = source.description;
        if (source.id == dossier.qualification.reference_source)
            description += description.empty() ? "reference source" : " (reference source)";
        Row row;
        row.cells = {cell(source.id),
                     cell(model::source_kind_text(source.kind)),
                     cell(description),
                     cell(supply_text(source)),
                     cell(source.level_method),
                     cell(source.settling_tolerance ? "±" + percent_of(*source.settling_tolerance) : ""),
                     cell(source.spectrum ? source.spectrum->file : ""),
                     cell(source.risk_group)};
        table.rows.push_back(std::move(row));
    }
    return table_block(std::move(table));
}

Blocks equipment(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("Further equipment");
    table.columns = {column("Equipment"),   column("Description", Alignment::left, 2),  column("Serial"),
                     column("Certificate"), column("Traceable to", Alignment::left, 2), column("Checked"),
                     column("Recall")};
    for (const auto& item : dossier.qualification.equipment) {
        Row row;
        row.cells = {cell(item.id),
                     cell(item.description),
                     cell(item.serial),
                     cell(item.certificate),
                     cell(item.traceable_to),
                     cell(item.checked ? model::date_text(*item.checked) : ""),
                     cell(item.recall ? model::date_text(*item.recall) : "")};
        table.rows.push_back(std::move(row));
    }
    return table_block(std::move(table));
}

Blocks geometry(const model::Dossier& dossier)
{
    const auto& geometry = dossier.qualification.geometry;
    Table table;
    table.caption = plain("Geometry of the bench");
    table.columns = {column("Quantity"), column("As stated", Alignment::left, 2)};
    const auto add = [&](std::string_view name, const std::optional<model::Quantity>& quantity) {
        if (!quantity)
            return;
        Row row;
        row.cells = {cell(name), cell(stated_quantity(*quantity))};
        table.rows.push_back(std::move(row));
    };
    add("Distance from source to sensor", geometry.distance);
    add("Offset of the meter plane from the product plane", geometry.plane_offset);
    add("Diameter of the source", geometry.source_diameter);
    add("Diameter of the sensor's aperture", geometry.sensor_diameter);
    add("Eccentricity of the sensor on the stage", geometry.eccentricity);
    add("Zero of the stage", geometry.stage_zero);
    add("Scale of the stage, relative", geometry.stage_scale);
    return table_block(std::move(table));
}

Blocks runs(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("Runs by kind; the evidence list names the file of each");
    table.columns = {column("Run"), column("Conditions", Alignment::left, 2), column("Started"),
                     column("Rows", Alignment::right)};
    std::string heading;
    auto groups = run_groups(dossier.qualification.runs);
    // Runs under one heading stand together, where the first of them stands in the header.
    std::vector<std::string> order;
    for (const auto& group : groups)
        order.push_back(run_heading(group));
    std::ranges::stable_sort(groups, {}, [&](const RunGroup& group) {
        return std::ranges::find(order, run_heading(group)) - order.begin();
    });
    for (const auto& group : groups) {
        const auto& run = *group.first;
        if (auto words = run_heading(group); words != heading) {
            heading = std::move(words);
            Row head;
            head.spanning = true;
            head.group_start = !table.rows.empty();
            head.cells.push_back(cell(styled(heading, Style::italic)));
            table.rows.push_back(std::move(head));
        }
        const auto join = model::join_words(run);
        const std::string conditions = group.combinations == 1
                                           ? run_conditions(run)
                                           : counted(group.combinations, "combination") + " of conditions" +
                                                 (join.empty() ? "" : ", " + join);
        Row row;
        row.cells = {cell(run.id), cell(conditions), cell(run.started ? started_text(*run.started) : ""),
                     cell(number_text(static_cast<double>(group.readings), 0))};
        table.rows.push_back(std::move(row));
    }
    return table_block(std::move(table));
}

}  // namespace luxdossier::report
