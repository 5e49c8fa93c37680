#include "intake/csv_reader.hpp"
#include "intake/curve_reader.hpp"
#include "intake/header.hpp"
#include "intake/intake.hpp"
#include "intake/join_parts.hpp"
#include "intake/models_reader.hpp"
#include "intake/named_file.hpp"
#include "intake/split_runs.hpp"
#include "model/numerals.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr std::string_view header_name = "qualification.json";
constexpr std::string_view format_name = "luxdossier/qualification/1";

/// Reads the files that a header names, each once.
class FolderReader {
public:
    FolderReader(const Files& files, const JsonReading& reading, Header& header)
        : files_(files), reading_(reading), header_(header)
    {
    }
    void read_curves();
    void read_runs();
    [[nodiscard]] const std::vector<std::string>& names() const { return names_; }

private:
    /// Content of a file that the header names at `at`; a fault where it cannot be read.
    std::optional<Files::Answer> open(const std::string& path, const JsonValue& at, const std::string& role);
    void read_run(RunStatement& statement);
    std::vector<model::Table> read_parts(RunStatement& statement);
    std::optional<model::Table> join(RunStatement& statement, std::vector<model::Table> tables);
    std::vector<bool> excluded_rows(const RunStatement& statement, std::size_t rows);

    const Files& files_;
    const JsonReading& reading_;
    Header& header_;
    std::vector<std::string> names_;  ///< of the files, in the order in which they were read
};

std::optional<Files::Answer> FolderReader::open(const std::string& path, const JsonValue& at,
                                                const std::string& role)
{
    auto& kept = header_.qualification.files;
    const auto known = std::ranges::find(kept, path, &model::InputFile::path);
    if (known != kept.end()) {
        known->role += ", " + role;
        if (auto again = answer_of(*known))
            return again;
    }
    auto answer = read_named_file(files_, path, at, reading_);
    if (!answer || known != kept.end())
        return answer;
    names_.push_back(path);
    const auto size = answer->pieces ? answer->size : answer->content.size();
    kept.push_back({path, answer->content, "", size, role});
    return answer;
}

void FolderReader::read_curves()
{
    for (const auto& request : header_.curves) {
        if (request.file.empty())
            continue;
        const auto file = open(request.file, *request.at, request.role);
        if (!file)
            continue;
        if (auto curve = read_curve(request.file, *file, request.kind, reading_.diagnostics))
            request.put(header_.qualification, std::move(*curve));
    }
}

/// Times by which parts are joined must be there and ascend.
bool check_times(const RunPart& part, const Files::Answer& file, const model::Table& table,
                 diagnostics::Diagnostics& diagnostics)
{
    const auto& times = table.number("time")->values;
    for (std::size_t row = 0; row < times.size(); ++row) {
        const auto is_gap = std::isnan(times[row]);
        if (!is_gap && (row == 0 || times[row] >= times[row - 1]))
            continue;
        auto fault = row_diagnostic(part.file, file, table, row);
        fault.found = is_gap ? "found a row without time in a part that is joined by time"
                             : "found a time before that of the row above in a part that is joined by time";
        fault.expected = "ascending times";
        diagnostics.add(std::move(fault));
        return false;
    }
    return true;
}

/// Parts that are joined by time all have one, and of the same kind. Times on both sides are never left
/// aside: rows of the same number were read together only by chance.
bool check_join(const JsonReading& reading, const RunStatement& statement)
{
    if (statement.parts.size() < 2)
        return true;
    const auto timed = std::ranges::count_if(statement.parts, &RunPart::time);
    if (!statement.join_within_s && timed < 2)
        return true;
    std::optional<ColumnKind> kind;
    for (const auto& part : statement.parts) {
        const auto* time = part.time();
        if (time == nullptr) {
            if (part.file_at != nullptr)
                reading.fault(
                    *part.file_at,
                    statement.join_within_s ? "found a part without \"time\" in a run that is joined by time"
                                            : "found a part without \"time\" beside parts with it",
                    "a column for \"time\" in each part",
                    statement.join_within_s ? "leave \"join_within\" out to join row by row"
                                            : "name no column for \"time\" in any part to join row by row");
            return false;
        }
        if (kind && *kind != time->kind) {
            reading.fault(*time->at, "found times counted in one part and dates and times in another",
                          "the same in all parts");
            return false;
        }
        kind = time->kind;
    }
    return true;
}

/// A run's parts are joined by time where all of them have one.
bool is_joined_by_time(const RunStatement& statement)
{
    return statement.parts.size() > 1 && std::ranges::all_of(statement.parts, &RunPart::time);
}

/// "12.5 s", or "2026-03-02 09:00:12" where the cells are dates and times.
std::string time_words(double seconds, ColumnKind kind)
{
    if (kind != ColumnKind::date_time)
        return model::numeral(seconds, 9) + " s";
    const auto day = model::TimePoint{seconds}.date();
    const auto of_day =
        static_cast<long>(seconds - static_cast<double>(day.time_since_epoch().count()) * 86400.0);
    return fmt::format("{} {:02}:{:02}:{:02}", model::date_text(day), of_day / 3600, of_day / 60 % 60,
                       of_day % 60);
}

std::string span_of_times(const model::Table& table, const RunPart& part)
{
    const auto& times = table.number("time")->values;
    const auto kind = part.time()->kind;
    return fmt::format("{} to {}", time_words(times.front(), kind), time_words(times.back(), kind));
}

/// Without a statement the interval of the readings tells how far apart two rows may lie.
bool check_intervals(const JsonReading& reading, const RunStatement& statement,
                     const std::vector<model::Table>& tables)
{
    if (statement.join_within_s)
        return true;
    for (std::size_t i = 1; i < tables.size(); ++i) {
        if (usual_interval(tables.front()) || usual_interval(tables[i]))
            continue;
        reading.fault(*statement.parts[i].file_at,
                      "found no interval between the times of the parts that are joined by time",
                      "\"join_within\" in the run", "it says how far apart in time two rows may lie");
        return false;
    }
    return true;
}

/// Logs that share no moment were not read together, or their clocks differ.
bool check_partners(const JsonReading& reading, const RunStatement& statement, const Joined& joined,
                    const std::vector<std::string>& spans)
{
    for (std::size_t i = 1; i < joined.parts.size(); ++i) {
        if (joined.parts[i].matched_rows > 0)
            continue;
        reading.fault(*statement.parts[i].file_at,
                      fmt::format("found no row within {} s of a row of {}: times of {} there, of {} here",
                                  model::numeral(joined.parts[i].within_s, 4),
                                  diagnostics::quoted(statement.parts.front().file), spans.front(), spans[i]),
                      "logs of one time and one clock",
                      "state by how much a clock was off as \"clock_offset\" in the part's \"format\"");
        return false;
    }
    return true;
}

/// How a part was joined, in words.
std::string join_words(const RunStatement& statement, const RunPart& part, const Joined::Part& told)
{
    if (!is_joined_by_time(statement))
        return "by row";
    auto words = fmt::format("by time within {} s ({})", model::numeral(told.within_s, 4),
                             statement.join_within_s ? "stated" : "half the longer interval");
    if (part.format.clock_offset_s != 0)
        words += fmt::format(", its clock put right by {} s", model::numeral(part.format.clock_offset_s, 6));
    return words;
}

std::vector<bool> FolderReader::excluded_rows(const RunStatement& statement, std::size_t rows)
{
    std::vector<bool> excluded;
    const auto& exclusions = header_.qualification.exclusions;
    for (std::size_t i = 0; i < exclusions.size(); ++i) {
        if (exclusions[i].run != statement.run.id)
            continue;
        excluded.resize(rows, false);
        const auto* stated = header_.exclusions[i]->find("rows");
        for (std::size_t k = 0; k < exclusions[i].rows.size(); ++k) {
            const auto row = exclusions[i].rows[k];
            if (row <= rows)
                excluded[row - 1] = true;
            else
                reading_.fault(stated->items[k],
                               fmt::format("found row {} of run \"{}\"", row, statement.run.id),
                               fmt::format("at most {}", rows), "data rows count from 1");
        }
    }
    return excluded;
}

/// Reads the files of a run's parts; empty where one of them has a fault.
std::vector<model::Table> FolderReader::read_parts(RunStatement& statement)
{
    std::vector<model::Table> tables;
    auto whole = check_join(reading_, statement);
    for (const auto& part : statement.parts) {
        if (part.file.empty() || part.file_at == nullptr) {
            whole = false;
            continue;
        }
        const auto file = open(part.file, *part.file_at, "readings of " + statement.run.id);
        CsvComments comments;
        auto table = file && !part.columns.empty() ? read_csv(part.file, *file, part.format, part.columns,
                                                              reading_.diagnostics, &comments)
                                                   : std::nullopt;
        if (table && is_joined_by_time(statement))
            whole = check_times(part, *file, *table, reading_.diagnostics) && whole;
        if (!table) {
            whole = false;
            continue;
        }
        for (auto& column : table->numbers)
            if (column.meaning == "time" && part.format.clock_offset_s != 0)
                for (auto& time_s : column.values)
                    time_s += part.format.clock_offset_s;
        tables.push_back(std::move(*table));
        auto& read = statement.run.files.emplace_back();
        read.file = part.file;
        read.comment_lines = std::move(comments.among_rows);
    }
    if (!whole)
        tables.clear();
    return tables;
}

/// Joins the parts and leaves with the run how that went; empty where they do not belong together.
std::optional<model::Table> FolderReader::join(RunStatement& statement, std::vector<model::Table> tables)
{
    if (tables.size() == 1)
        return std::move(tables.front());
    const bool by_time = is_joined_by_time(statement);
    if (by_time && !check_intervals(reading_, statement, tables))
        return std::nullopt;
    std::vector<std::string> spans;
    for (std::size_t i = 0; i < tables.size(); ++i)
        spans.push_back(by_time ? span_of_times(tables[i], statement.parts[i]) : std::string());
    auto joined = join_parts(std::move(tables), statement.join_within_s);
    if (by_time && !check_partners(reading_, statement, joined, spans))
        return std::nullopt;
    for (std::size_t i = 0; i < joined.parts.size(); ++i) {
        auto& file = statement.run.files[i];
        const auto& told = joined.parts[i];
        file.matched_rows = told.matched_rows;
        file.unmatched_rows = told.unmatched_rows;
        file.largest_time_difference_s = told.largest_time_difference_s;
        file.join = i == 0 ? "rows of this file are kept" : join_words(statement, statement.parts[i], told);
    }
    return std::move(joined.table);
}

void FolderReader::read_run(RunStatement& statement)
{
    auto tables = read_parts(statement);
    if (tables.empty())
        return;
    auto joined = join(statement, std::move(tables));
    if (!joined)
        return;
    std::vector<ColumnRequest> columns;
    for (const auto& part : statement.parts)
        columns.insert(columns.end(), part.columns.begin(), part.columns.end());
    auto& run = statement.run;
    const auto* time = joined->number("time");
    run.time_ordered = statement.time_ordered.value_or(time != nullptr);
    const auto time_column = std::ranges::find(columns, "time", &ColumnRequest::meaning);
    if (!run.started && time != nullptr && time_column->kind == ColumnKind::date_time &&
        !time->values.empty() && !std::isnan(time->values.front()))
        run.started = model::TimePoint{time->values.front()};
    const auto excluded = excluded_rows(statement, joined->rows);
    const auto table = std::make_shared<const model::Table>(std::move(*joined));
    for (auto& one : split_runs(run, columns, table, excluded))
        header_.qualification.runs.push_back(std::move(one));
}

void FolderReader::read_runs()
{
    for (auto& statement : header_.runs)
        read_run(statement);
}

/// Curves and runs in the order in which the header names their files.
void sort_by_mention(Header& header)
{
    std::ranges::stable_sort(header.curves, {}, [](const CurveRequest& one) { return one.at->offset; });
}

void read_whole(const Files& files, std::string_view content, const model::MetricCatalogue& metrics,
                Header& header, diagnostics::Diagnostics& diagnostics)
{
    const JsonText text{std::string(header_name), content};
    const auto root = parse_json(text, diagnostics);
    std::vector<std::string> order{std::string(header_name)};
    if (root) {
        const JsonReading reading{text, diagnostics};
        read_header(reading, *root, metrics, header);
        sort_by_mention(header);
        FolderReader folder(files, reading, header);
        folder.read_curves();
        folder.read_runs();
        order.insert(order.end(), folder.names().begin(), folder.names().end());
    }
    diagnostics.sort_by_location(order);
}

}  // namespace

void read_header(const JsonReading& reading, const JsonValue& root, const model::MetricCatalogue& metrics,
                 Header& header)
{
    ObjectReader reader(reading, &root, "the header");
    check_format(reader, format_name);
    auto& qualification = header.qualification;
    read_document(reader, qualification.document);
    read_product(reader, qualification.product);
    read_samples(reader, header);
    read_configurations(reader, header);
    qualification.reference_configuration = reader.id("reference_configuration");
    qualification.reference_source = reader.id("reference_source");
    qualification.reference_temperature_k = reader.plain("reference_temperature", temperature);
    read_meters(reader, header);
    read_equipment(reader, header);
    read_sources(reader, header);
    read_geometry(reader, qualification.geometry);
    read_runs(reader, header);
    read_evaluation(reader, qualification.evaluation, true);
    read_statements(reader, header);
    qualification.models = read_models(reader, metrics);
    read_corrections(reader, header);
    reader.finish();
    check_references(reading, root, header);
}

std::optional<model::Qualification> read_qualification(const Files& files,
                                                       diagnostics::Diagnostics& diagnostics,
                                                       const model::MetricCatalogue& metrics)
{
    const auto answer = files.read(header_name);
    if (const auto state = describe_state(answer.state); !state.found.empty() || answer.pieces) {
        diagnostics::Diagnostic fault;
        fault.location.file = header_name;
        fault.found = answer.pieces ? "found a file of more than 64 MiB" : state.found;
        fault.expected = answer.pieces ? "a header" : state.expected;
        fault.advice = answer.state == Files::State::missing
                           ? "name a qualification folder: it holds qualification.json"
                           : "";
        diagnostics.add(std::move(fault));
        return std::nullopt;
    }
    Header header;
    diagnostics::Diagnostics own;
    header.qualification.files.push_back(
        {std::string(header_name), answer.content, "", answer.content.size(), "qualification header"});
    read_whole(files, answer.content, metrics, header, own);
    diagnostics.append(own);
    return own.has_errors() ? std::nullopt : std::optional(std::move(header.qualification));
}

}  // namespace luxdossier::intake
