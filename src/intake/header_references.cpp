// References from one part of the header to another.

#include "intake/header.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

/// Ids that something may refer to. Where the header declares none, runs name them freely.
struct Declared {
    std::string_view what;
    std::vector<std::string_view> ids;
    bool declared =
        false;  ///< false too where the list has a fault, so that an id may only seem to be missing
};

template <typename Item>
Declared declared_ids(const JsonValue& root, std::string_view key, std::string_view what,
                      const std::vector<Item>& items)
{
    const auto* list = root.find(key);
    Declared declared{what, {}, list != nullptr && list->kind == JsonValue::Kind::array};
    for (const auto& item : items) {
        declared.declared = declared.declared && !item.id.empty();
        declared.ids.push_back(item.id);
    }
    return declared;
}

void check_id(const JsonReading& reading, const JsonValue* at, const std::string& id,
              const Declared& declared)
{
    if (at == nullptr || at->kind != JsonValue::Kind::text || id.empty() || !declared.declared ||
        std::ranges::find(declared.ids, id) != declared.ids.end())
        return;
    const auto near = diagnostics::nearest(id, declared.ids);
    std::string expected;
    if (!near.empty())
        expected = fmt::format("\"{}\"", near);
    else if (declared.ids.empty())
        expected = fmt::format("a {} that the header declares", declared.what);
    else
        expected = declared.ids.size() <= 8 ? listed(declared.ids)
                                            : fmt::format("the id of a {} of the header", declared.what);
    reading.fault(*at, fmt::format("found unknown {} {}", declared.what, diagnostics::quoted(id)), expected);
}

/// Runs that are referred to: they exist and are of the right kind.
void check_run_reference(const JsonReading& reading, const JsonValue* at, const std::string& id,
                         const Header& header, const Declared& runs, std::optional<model::RunKind> kind)
{
    check_id(reading, at, id, runs);
    const auto found =
        std::ranges::find_if(header.runs, [&id](const RunStatement& one) { return one.run.id == id; });
    if (at != nullptr && kind && found != header.runs.end() && found->run.kind != *kind)
        reading.fault(*at,
                      fmt::format("found run {} of kind \"{}\"", diagnostics::quoted(id),
                                  model::run_kind_text(found->run.kind)),
                      fmt::format("a run of kind \"{}\"", model::run_kind_text(*kind)));
}

void check_position_runs(const JsonReading& reading, const RunStatement& statement, const Header& header,
                         const Declared& runs)
{
    const auto* at = statement.at->find("position_run");
    if (at == nullptr)
        return;
    for (std::size_t i = 0; i < statement.run.position_runs.size(); ++i) {
        const auto* item = at->kind == JsonValue::Kind::array && i < at->items.size() ? &at->items[i] : at;
        check_run_reference(reading, item, statement.run.position_runs[i], header, runs,
                            model::RunKind::position);
    }
}

/// Columns that hold ids may hold declared ones only.
void set_words(RunStatement& statement, std::string_view meaning, const Declared& declared)
{
    for (auto& part : statement.parts) {
        for (auto& column : part.columns) {
            if (column.meaning != meaning)
                continue;
            column.holds_ids = true;
            if (declared.declared)
                column.words.assign(declared.ids.begin(), declared.ids.end());
        }
    }
}

}  // namespace

void check_references(const JsonReading& reading, const JsonValue& root, Header& header)
{
    const auto& qualification = header.qualification;
    const auto samples = declared_ids(root, "samples", "sample", qualification.samples);
    const auto configurations =
        declared_ids(root, "configurations", "configuration", qualification.configurations);
    const auto sources = declared_ids(root, "sources", "source", qualification.sources);
    const auto equipment = declared_ids(root, "equipment", "equipment", qualification.equipment);
    const auto meters = declared_ids(root, "meters", "meter", qualification.meters);
    Declared runs{"run", {}, root.find("runs") != nullptr};
    if (const auto* list =
            root.find("runs")) {  // as written: a run with a fault of its own can be referred to
        for (const auto& item : list->items) {
            const auto* id = item.find("id");
            const auto is_text = id != nullptr && id->kind == JsonValue::Kind::text;
            runs.declared = runs.declared && is_text;
            if (is_text)
                runs.ids.push_back(id->text);
        }
    }
    check_id(reading, root.find("reference_configuration"), qualification.reference_configuration,
             configurations);
    check_id(reading, root.find("reference_source"), qualification.reference_source, sources);
    if (const auto* corrections = root.find("corrections"))
        for (std::size_t i = 0; i < qualification.corrections.size(); ++i)
            check_id(reading, corrections->items[i].find("configuration"),
                     qualification.corrections[i].configuration, configurations);
    for (auto& statement : header.runs) {
        const auto& run = statement.run;
        check_id(reading, statement.at->find("sample"), run.sample, samples);
        check_id(reading, statement.at->find("configuration"), run.configuration, configurations);
        check_id(reading, statement.at->find("source"), run.source, sources);
        check_id(reading, statement.at->find("meter"), run.meter, meters);
        check_id(reading, statement.at->find("thermometer"), run.thermometer, equipment);
        check_id(reading, statement.at->find("irradiance_meter"), run.irradiance_meter, equipment);
        check_id(reading, statement.at->find("visible_source"), run.visible_source, sources);
        check_position_runs(reading, statement, header, runs);
        check_run_reference(reading, statement.at->find("dark_run"), run.dark_run, header, runs,
                            model::RunKind::dark);
        set_words(statement, "sample", samples);
        set_words(statement, "configuration", configurations);
        set_words(statement, "source", sources);
    }
    const auto check_list = [&](std::string_view key) {
        const auto* list = root.find(key);
        if (list == nullptr)
            return;
        for (const auto& item : list->items) {
            if (const auto* run = item.find("run"); run != nullptr && run->kind == JsonValue::Kind::text)
                check_id(reading, run, run->text, runs);
        }
    };
    check_list("accepted_remarks");
    check_list("exclusions");
}

}  // namespace luxdossier::intake
