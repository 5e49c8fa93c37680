#include "intake/csv_reader.hpp"

#include "intake/csv_reading.hpp"
#include "intake/object_reader.hpp"
#include "intake/short_decimal.hpp"
#include "intake/text_encoding.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr std::size_t longest_record_bytes = std::size_t{16} << 20U;

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

}  // namespace

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

/// The fast way: a plain number, a point for decimal mark, no quotes, no blanks. Anything else takes the slow
/// way.
const char* CsvReader::read_number(const char* at, const char* end, Target& target)
{
    if (decimal_ == '.' && target.request->kind != ColumnKind::date_time) {
        double value = 0;
        if (const auto* const stop = read_short_decimal(at, value);
            stop != nullptr && (*stop == delimiter_ || *stop == '\n')) {
            target.numbers->push_back(value);
            return stop;
        }
        const auto [stop, error] = std::from_chars(at, end, value);
        const auto closed = *stop == delimiter_ || *stop == '\n' || (*stop == '\r' && stop[1] == '\n');
        if (error == std::errc() && closed && std::abs(value) <= largest_magnitude) {
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
                target.numbers->push_back(missing_reading);
            else
                target.texts->values.push_back(unread_text);
        }
    }
    note_line();
    last_row_line_ = line_;
    ++table_.rows;
}

/// The line would be a row if it did not begin with #: as many cells, and a number where one is asked for.
bool CsvReader::looks_like_row(std::string_view line) const
{
    line.remove_prefix(std::min(line.find_first_not_of("# \t"), line.size()));
    const auto cells = split_line(line, delimiter_);
    if (cells.size() != target_of_column_.size())
        return false;
    for (std::size_t column = 0; column < cells.size(); ++column) {
        const auto place = target_of_column_[column];
        if (place == CsvHeading::unused)
            continue;
        const auto& target = targets_[static_cast<std::size_t>(place)];
        const auto is_text = target.numbers == nullptr || cells[column].empty();
        if (!is_text && cells[column].find_first_of("0123456789") != std::string::npos &&
            cells[column].find_first_not_of("+-0123456789.,eE:TZ ") == std::string::npos)
            return true;
    }
    return false;
}

void CsvReader::note_comment(const char* begin, const char* end)
{
    if (end > begin && end[-1] == '\r')
        --end;
    const auto line = static_cast<std::uint32_t>(line_);
    comments_.among_rows.push_back(line);
    if (looks_like_row({begin, static_cast<std::size_t>(end - begin)}))
        comments_.like_rows.push_back(line);
}

/// Comments in front of the first row and behind the last one are only kept where they would be rows.
void CsvReader::keep_comments_among_rows()
{
    const auto first = table_.lines.empty() ? heading_line_ + 1 : table_.lines.front();
    std::erase_if(comments_.among_rows, [&](std::uint32_t line) {
        return (line < first || line > last_row_line_) &&
               !std::ranges::binary_search(comments_.like_rows, line);
    });
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
                const auto* const line_end = std::find(at, end, '\n');
                if (*at == '#')
                    note_comment(at, line_end);
                at = line_end + 1;
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
    if (doubt_)
        add(doubt_->fault);
    keep_comments_among_rows();
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

diagnostics::Diagnostic row_diagnostic(const std::string& name, const Files::Answer& file,
                                       const model::Table& table, std::size_t row)
{
    return line_diagnostic(name, file, table.lines.empty() ? row + 2 : table.lines.at(row));
}

diagnostics::Diagnostic line_diagnostic(const std::string& name, const Files::Answer& file,
                                        std::size_t number)
{
    diagnostics::Diagnostic made;
    made.location = {name, number, 0, ""};
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
                                     diagnostics::Diagnostics& diagnostics, CsvComments* comments)
{
    CsvReader reader(name, file, format, requests, diagnostics);
    auto table = reader.read();
    if (comments != nullptr)
        *comments = reader.comments();
    return table;
}

}  // namespace luxdossier::intake
