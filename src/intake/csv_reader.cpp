#include "intake/csv_reader.hpp"

#include "intake/csv_heading.hpp"
#include "intake/dates.hpp"
#include "intake/object_reader.hpp"
#include "intake/text_encoding.hpp"
#include "intake/text_input.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstring>
#include <limits>
#include <unordered_map>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t longest_record_bytes = std::size_t{16} << 20U;

/// Where the cells of one column go.
struct Target {
    const ColumnRequest* request = nullptr;
    std::vector<double>* numbers = nullptr;
    model::TextColumn* texts = nullptr;
    std::unordered_map<std::string, std::uint32_t> known_texts;
};

/// A cell as it stands in the buffer.
struct Cell {
    const char* begin = nullptr;
    const char* end = nullptr;  ///< behind the last character, quotes included
    std::string_view text;      ///< quotes and blanks taken off
    bool quoted = false;
};

class CsvReader {
public:
    CsvReader(const std::string& name, const Files::Answer& file, const CsvFormat& format,
              std::span<const ColumnRequest> requests, diagnostics::Diagnostics& diagnostics)
        : name_(name), input_(file, format.encoding), format_(format), requests_(requests),
          diagnostics_(diagnostics)
    {
    }
    std::optional<model::Table> read();

private:
    bool find_heading();
    void make_columns();
    void read_records();
    const char* read_record(const char* at, const char* end);
    const char* read_number(const char* at, const char* end, Target& target);
    const char* find_cell(const char* at, const char* end, Cell& cell);
    const char* skip_cell(const char* at, const char* end);
    void take_cell(const Cell& cell, Target& target);
    double number_of(const Cell& cell, const Target& target);
    void take_text(const Cell& cell, Target& target);
    void end_record(std::size_t columns, const char* end_of_record);
    void note_line();

    [[nodiscard]] std::string_view line_around(const char* at) const;
    void fault_at(const char* begin, const char* end, std::string found, std::string expected,
                  std::string advice = {});
    void fault_of_text();
    void fault_of_file(std::string found, std::string expected, std::string advice = {});
    void add(diagnostics::Diagnostic fault);
    [[nodiscard]] std::size_t lines_before(const char* at) const;

    const std::string& name_;
    TextInput input_;
    const CsvFormat& format_;
    std::span<const ColumnRequest> requests_;
    diagnostics::Diagnostics& diagnostics_;

    CsvHeading heading_;
    char delimiter_ = ',';
    char decimal_ = 0;  ///< 0: not settled yet
    std::vector<std::int32_t> target_of_column_;
    std::vector<Target> targets_;
    model::Table table_;
    std::vector<std::size_t> places_;  ///< of each request among numbers or texts
    const char* record_ = nullptr;     ///< where the record begins
    std::size_t line_ = 1;             ///< of the record's beginning
    std::size_t heading_line_ = 1;
    std::size_t faults_ = 0;
};

void CsvReader::add(diagnostics::Diagnostic fault)
{
    ++faults_;
    if (faults_ <= most_faults_of_a_file) {
        diagnostics_.add(std::move(fault));
    } else if (faults_ == most_faults_of_a_file + 1) {
        diagnostics::Diagnostic rest;
        rest.location = {name_, fault.location.line, fault.location.column, ""};
        rest.found = fmt::format("found more than {} faults in this file", most_faults_of_a_file);
        rest.advice = "the faults from here on are not told: correct those above first";
        diagnostics_.add(std::move(rest));
    }
}

std::size_t CsvReader::lines_before(const char* at) const
{
    return line_ + static_cast<std::size_t>(std::count(record_, at, '\n'));
}

/// The physical line in which a character of the buffer stands.
std::string_view CsvReader::line_around(const char* at) const
{
    const auto* begin = at;
    while (begin > record_ && begin[-1] != '\n')
        --begin;
    const auto rest = input_.rest();
    const auto* const limit = rest.data() + rest.size();
    const auto* end = std::find(at, limit, '\n');
    if (end > begin && end[-1] == '\r')
        --end;
    return {begin, static_cast<std::size_t>(end - begin)};
}

void CsvReader::fault_at(const char* begin, const char* end, std::string found, std::string expected,
                         std::string advice)
{
    diagnostics::Diagnostic fault;
    const auto line = line_around(begin);
    fault.location = {name_, lines_before(begin), 0, ""};
    const auto first = static_cast<std::size_t>(begin - line.data());
    diagnostics::point_at(fault, line, first,
                          static_cast<std::size_t>(std::max<std::ptrdiff_t>(end - begin, 1)));
    fault.found = std::move(found);
    fault.expected = std::move(expected);
    fault.advice = std::move(advice);
    add(std::move(fault));
}

void CsvReader::fault_of_file(std::string found, std::string expected, std::string advice)
{
    diagnostics::Diagnostic fault;
    fault.location.file = name_;
    fault.found = std::move(found);
    fault.expected = std::move(expected);
    fault.advice = std::move(advice);
    add(std::move(fault));
}

/// The file stopped being text: told where the last good character stands.
void CsvReader::fault_of_text()
{
    const auto text = input_.rest();
    diagnostics::Diagnostic fault;
    const auto start = text.rfind('\n') == text.npos ? 0 : text.rfind('\n') + 1;
    fault.location = {name_, line_ + static_cast<std::size_t>(std::ranges::count(text, '\n')), 0, ""};
    diagnostics::point_at(fault, text.substr(start), text.size() - start, 1);
    fault.source_line.clear();
    fault.found = "found " + input_.fault();
    fault.expected = input_.encoding_was_stated() ? "text in the stated encoding" : "text in UTF-8";
    fault.advice = "state \"encoding\" in the run's \"format\": utf-8, utf-16, utf-16le, utf-16be or latin-1";
    add(std::move(fault));
}

/// Goes to the heading line, past comments and what stands in front of it.
bool CsvReader::find_heading()
{
    for (;;) {
        const auto rest = input_.rest();
        const auto end = rest.find('\n');
        if (end == rest.npos) {
            if (rest.size() < longest_record_bytes && input_.read_on())
                continue;
            if (!input_.fault().empty())
                fault_of_text();
            else if (input_.file_bytes() == 0)
                fault_of_file("found an empty file", "a heading line and readings");
            else if (!format_.skip_to.empty())
                fault_of_file(
                    fmt::format("found no line that begins with {}", diagnostics::quoted(format_.skip_to)),
                    "the heading line", "correct \"skip_to\" in the run's \"format\"");
            else
                fault_of_file("found no heading line", "a heading line and readings");
            return false;
        }
        auto line = rest.substr(0, end);
        if (line.ends_with('\r'))
            line.remove_suffix(1);
        const auto is_heading = format_.skip_to.empty()
                                    ? line.find_first_not_of(" \t") != line.npos && line.front() != '#'
                                    : line.starts_with(format_.skip_to);
        if (is_heading) {
            diagnostics::Diagnostics found;
            auto heading = read_heading(name_, line_, line, format_.delimiter, requests_, found);
            for (const auto& fault : found.all())
                add(fault);
            if (!heading)
                return false;
            heading_ = std::move(*heading);
            heading_line_ = line_;
        }
        ++line_;
        input_.use_up(end + 1);
        if (is_heading)
            return true;
    }
}

void CsvReader::make_columns()
{
    delimiter_ = heading_.delimiter;
    // A comma between the cells leaves the point to the numbers, unless the header says otherwise.
    decimal_ = format_.decimal.value_or(delimiter_ == ',' ? '.' : '\0');
    for (const auto& request : requests_) {
        if (request.kind == ColumnKind::text) {
            places_.push_back(table_.texts.size());
            table_.texts.push_back({request.meaning, request.heading, {}, {}});
        } else {
            places_.push_back(table_.numbers.size());
            table_.numbers.push_back(
                {request.meaning, request.heading, request.unit, request.written_unit, {}});
        }
    }
    for (std::size_t i = 0; i < requests_.size(); ++i) {
        Target target;
        target.request = &requests_[i];
        if (requests_[i].kind == ColumnKind::text)
            target.texts = &table_.texts[places_[i]];
        else
            target.numbers = &table_.numbers[places_[i]].values;
        targets_.push_back(std::move(target));
    }
    target_of_column_ = heading_.request_of_column;
}

/// Reserves for as many rows as the file will have if all lines are as long as those seen.
void reserve_rows(std::vector<Target>& targets, std::string_view seen, std::size_t file_bytes)
{
    const auto lines = static_cast<std::size_t>(std::ranges::count(seen, '\n'));
    if (lines == 0 || file_bytes <= seen.size())
        return;
    const auto rows = static_cast<std::size_t>(static_cast<double>(lines) * static_cast<double>(file_bytes) /
                                               static_cast<double>(seen.size()) * 1.02);
    for (auto& target : targets) {
        if (target.numbers != nullptr)
            target.numbers->reserve(rows);
        else
            target.texts->values.reserve(rows);
    }
}

/// Position of the cell's end (delimiter or line end), or nullptr where the text ends inside quotes.
const char* CsvReader::skip_cell(const char* at, const char* end)
{
    while (*at == ' ')
        ++at;
    if (*at != '"') {
        while (*at != delimiter_ && *at != '\n')
            ++at;
        return at;
    }
    Cell cell;
    return find_cell(at, end, cell);
}

const char* CsvReader::find_cell(const char* at, const char* end, Cell& cell)
{
    const auto is_blank = [this](char c) {
        return c == ' ' || (c == '\t' && delimiter_ != '\t') || c == '\r';
    };
    while (*at == ' ')
        ++at;
    cell.begin = at;
    if (*at == '"') {
        const auto* closing = at + 1;
        for (;; closing += 2) {
            closing = std::find(closing, end, '"');
            if (closing == end)
                return nullptr;
            if (closing[1] != '"')
                break;
        }
        cell.quoted = true;
        cell.text = {at + 1, static_cast<std::size_t>(closing - at - 1)};
        at = closing + 1;
        cell.end = at;
        while (is_blank(*at))
            ++at;
        if (*at != delimiter_ && *at != '\n')
            fault_at(at, at + 1, "found text behind a closing quote", "a delimiter or the end of the line",
                     "write a quote inside quotes twice");
        while (*at != delimiter_ && *at != '\n')
            ++at;
        return at;
    }
    while (*at != delimiter_ && *at != '\n')
        ++at;
    cell.end = at;
    while (cell.end > cell.begin && is_blank(cell.end[-1]))
        --cell.end;
    cell.text = {cell.begin, static_cast<std::size_t>(cell.end - cell.begin)};
    return at;
}

/// The fast way: a plain number, a point for decimal mark, no quotes, no blanks. Anything else takes the slow
/// way.
const char* CsvReader::read_number(const char* at, const char* end, Target& target)
{
    if (decimal_ == '.' && target.request->kind != ColumnKind::date_time) {
        double value = 0;
        const auto [stop, error] = std::from_chars(at, end, value);
        const auto closed = *stop == delimiter_ || *stop == '\n' || (*stop == '\r' && stop[1] == '\n');
        if (error == std::errc() && closed && std::isfinite(value)) {
            target.numbers->push_back(value);
            return *stop == '\r' ? stop + 1 : stop;
        }
    }
    Cell cell;
    const auto* stop = find_cell(at, end, cell);
    if (stop != nullptr)
        take_cell(cell, target);
    return stop;
}

double CsvReader::number_of(const Cell& cell, const Target& target)
{
    if (cell.text.empty())
        return missing;
    constexpr std::size_t longest_number = 64;
    std::array<char, longest_number> copy{};
    const auto length = std::min(cell.text.size(), copy.size() - 1);
    std::copy_n(cell.text.begin(), length, copy.begin());
    const auto is_decimal_comma = [&] { return cell.text.find(',') != cell.text.npos; };
    if (decimal_ == 0 && cell.text.find_first_not_of("+-0123456789eE.,") == cell.text.npos) {
        if (is_decimal_comma())
            decimal_ = ',';
        else if (cell.text.find('.') != cell.text.npos)
            decimal_ = '.';
    }
    if (decimal_ == ',') {
        std::replace(copy.begin(), copy.begin() + length, '.', '\n');  // no number then
        std::replace(copy.begin(), copy.begin() + length, ',', '.');
    }
    const auto* begin = copy.data();
    const auto* const end = begin + length;
    if (length > 1 && *begin == '+' && begin[1] != '-')
        ++begin;
    double value = 0;
    const auto [stop, error] = std::from_chars(begin, end, value);
    if (error == std::errc() && stop == end && length == cell.text.size() && std::isfinite(value))
        return value;
    std::string advice = "leave the cell empty where a reading is missing";
    if (error == std::errc::result_out_of_range)
        advice = "the number is beyond the range of numbers";
    else if (decimal_ == '.' && is_decimal_comma())
        advice = "state \"decimal\": \",\" in the run's \"format\" if the comma is the decimal mark";
    else if (decimal_ == ',' && cell.text.find('.') != cell.text.npos)
        advice = "the decimal mark of this file is the comma";
    fault_at(cell.begin, cell.end,
             fmt::format("found {} for \"{}\"", diagnostics::quoted(cell.text), target.request->meaning),
             target.request->kind == ColumnKind::date_time ? "a date and time such as 2025-03-10T09:00:00"
                                                           : "a number",
             advice);
    return missing;
}

void CsvReader::take_text(const Cell& cell, Target& target)
{
    std::string text(cell.text);
    if (cell.quoted) {
        for (auto at = text.find("\"\""); at != text.npos; at = text.find("\"\"", at + 1))
            text.erase(at, 1);
    }
    auto& column = *target.texts;
    if (!column.values.empty() && column.texts[column.values.back()] == text) {
        column.values.push_back(column.values.back());
        return;
    }
    const auto [place, is_new] =
        target.known_texts.try_emplace(text, static_cast<std::uint32_t>(column.texts.size()));
    if (is_new) {
        const auto& request = *target.request;
        const auto found =
            fmt::format("found {} for \"{}\"", text.empty() ? "an empty cell" : diagnostics::quoted(text),
                        request.meaning);
        const std::vector<std::string_view> words(request.words.begin(), request.words.end());
        if (!words.empty() && std::ranges::find(words, text) == words.end()) {
            const auto near = diagnostics::nearest(text, words);
            fault_at(cell.begin, cell.end, found, near.empty() ? listed(words) : fmt::format("\"{}\"", near));
        } else if (words.empty() && (request.holds_ids ? !is_id(text) : text.empty())) {
            fault_at(cell.begin, cell.end, found,
                     request.holds_ids
                         ? "an id: a letter or digit, then letters, digits, dots, hyphens or underscores"
                         : "text");
        }
        column.texts.push_back(std::move(text));
    }
    column.values.push_back(place->second);
}

void CsvReader::take_cell(const Cell& cell, Target& target)
{
    if (target.texts != nullptr) {
        take_text(cell, target);
        return;
    }
    if (target.request->kind == ColumnKind::date_time && !cell.text.empty()) {
        if (const auto seconds = parse_date_time(cell.text)) {
            target.numbers->push_back(*seconds);
            return;
        }
        const auto is_number = cell.text.find_first_not_of("+-0123456789.,eE") == cell.text.npos;
        fault_at(cell.begin, cell.end,
                 fmt::format("found {} for \"{}\"", diagnostics::quoted(cell.text), target.request->meaning),
                 "a date and time such as 2025-03-10T09:00:00",
                 is_number ? "state the \"unit\" of the column in the header if it counts seconds" : "");
        target.numbers->push_back(missing);
        return;
    }
    if (target.request->kind == ColumnKind::time && parse_date_time(cell.text)) {
        fault_at(cell.begin, cell.end,
                 fmt::format("found {} for \"{}\"", diagnostics::quoted(cell.text), target.request->meaning),
                 "a number in the stated unit",
                 "leave \"unit\" out in the header where cells are dates and times");
        target.numbers->push_back(missing);
        return;
    }
    const auto value = number_of(cell, target);
    target.numbers->push_back(value);
    if (target.request->is_condition && std::isnan(value) && cell.text.empty())
        fault_at(cell.begin, cell.end, fmt::format("found an empty cell for \"{}\"", target.request->meaning),
                 "a number in every row: it is a condition");
}

void CsvReader::note_line()
{
    const auto row = table_.rows;
    if (table_.lines.empty()) {
        if (line_ == row + 2)
            return;
        for (std::size_t i = 0; i < row; ++i)
            table_.lines.push_back(static_cast<std::uint32_t>(i + 2));
    }
    table_.lines.push_back(static_cast<std::uint32_t>(line_));
}

void CsvReader::end_record(std::size_t columns, const char* end_of_record)
{
    const auto expected = target_of_column_.size();
    if (columns != expected) {
        const auto* end =
            end_of_record > record_ && end_of_record[-1] == '\r' ? end_of_record - 1 : end_of_record;
        fault_at(record_, end,
                 fmt::format("found {} {} in this row", columns, columns == 1 ? "cell" : "cells"),
                 fmt::format("{} as in the heading line", expected),
                 delimiter_ == ',' && columns > expected ? "a decimal comma needs another delimiter or quotes"
                                                         : "");
        for (auto column = columns; column < expected; ++column) {
            const auto place = target_of_column_[column];
            if (place == CsvHeading::unused)
                continue;
            auto& target = targets_[static_cast<std::size_t>(place)];
            if (target.numbers != nullptr)
                target.numbers->push_back(missing);
            else
                target.texts->values.push_back(0);
        }
    }
    note_line();
    ++table_.rows;
}

/// Reads one record; returns what follows it, or nullptr where the text ends inside quotes.
const char* CsvReader::read_record(const char* at, const char* end)
{
    record_ = at;
    std::size_t column = 0;
    const auto columns = target_of_column_.size();
    auto spans_lines = false;
    for (;; ++column) {
        const auto place = column < columns ? target_of_column_[column] : CsvHeading::unused;
        const auto* stop = place == CsvHeading::unused ? skip_cell(at, end) : nullptr;
        if (place != CsvHeading::unused) {
            auto& target = targets_[static_cast<std::size_t>(place)];
            if (target.numbers != nullptr) {
                stop = read_number(at, end, target);
            } else {
                Cell cell;
                stop = find_cell(at, end, cell);
                if (stop != nullptr)
                    take_text(cell, target);
            }
        }
        if (stop == nullptr)
            return nullptr;
        spans_lines = spans_lines || *at == '"' || *at == ' ';
        at = stop + 1;
        if (*stop == '\n') {
            end_record(column + 1, stop);
            line_ += spans_lines ? static_cast<std::size_t>(std::count(record_, at, '\n')) : 1;
            return at;
        }
    }
}

void CsvReader::read_records()
{
    auto reserved = false;
    for (;;) {
        const auto rest = input_.rest();
        const auto last = rest.rfind('\n');
        const auto* at = rest.data();
        const auto* const end = last == rest.npos ? at : at + last + 1;
        if (!reserved && end != at) {
            reserve_rows(targets_, {at, static_cast<std::size_t>(end - at)}, input_.file_bytes());
            reserved = true;
        }
        while (at < end) {
            if (*at == '\n' || *at == '#' || (*at == '\r' && at[1] == '\n')) {
                at = std::find(at, end, '\n') + 1;
                ++line_;
                continue;
            }
            const auto* next = read_record(at, end);
            if (next == nullptr)
                break;
            at = next;
        }
        record_ = at;
        const auto incomplete = at < end;
        if (incomplete) {
            // Open quotes: drop what the unfinished record has given and read on.
            for (auto& target : targets_) {
                if (target.numbers != nullptr)
                    target.numbers->resize(table_.rows);
                else
                    target.texts->values.resize(table_.rows);
            }
        }
        input_.use_up(static_cast<std::size_t>(at - rest.data()));
        if (input_.rest().size() < longest_record_bytes && input_.read_on())
            continue;
        record_ = input_.rest().data();
        if (!input_.fault().empty())
            fault_of_text();
        else if (!input_.rest().empty())
            fault_at(record_, record_ + 1, "found a quote that is never closed in this row",
                     "a closing quote");
        return;
    }
}

std::optional<model::Table> CsvReader::read()
{
    if (!find_heading())
        return std::nullopt;
    make_columns();
    read_records();
    if (faults_ == 0 && table_.rows == 0)
        fault_of_file("found a heading line but no readings", "at least one row of readings");
    if (faults_ > 0)
        return std::nullopt;
    for (std::size_t i = 0; i < requests_.size(); ++i) {
        const auto& conversion = requests_[i].conversion;
        if (targets_[i].numbers == nullptr || conversion.is_identity())
            continue;
        const auto is_nominal = requests_[i].is_condition || requests_[i].meaning == "level";
        for (auto& value : *targets_[i].numbers)
            value = is_nominal ? without_noise(conversion(value)) : conversion(value);
    }
    return std::move(table_);
}

}  // namespace

diagnostics::Diagnostic row_diagnostic(const std::string& name, const Files::Answer& file,
                                       const model::Table& table, std::size_t row)
{
    diagnostics::Diagnostic made;
    made.location = {name, table.lines.empty() ? row + 2 : table.lines.at(row), 0, ""};
    const std::string_view content = file.content;
    if (valid_utf8_length(content) != content.size())
        return made;
    std::size_t start = 0;
    for (std::size_t line = 1; line < made.location.line && start < content.size(); ++line)
        start = std::min(content.find('\n', start), content.size() - 1) + 1;
    auto line = content.substr(start, content.find('\n', start) - start);
    if (line.ends_with('\r'))
        line.remove_suffix(1);
    if (!line.empty())
        diagnostics::point_at(made, line, 0, line.size());
    return made;
}

std::optional<model::Table> read_csv(const std::string& name, const Files::Answer& file,
                                     const CsvFormat& format, std::span<const ColumnRequest> requests,
                                     diagnostics::Diagnostics& diagnostics)
{
    return CsvReader(name, file, format, requests, diagnostics).read();
}

}  // namespace luxdossier::intake
