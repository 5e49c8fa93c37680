#include "intake/csv_reading.hpp"

#include "intake/dates.hpp"
#include "intake/number_marks.hpp"
#include "intake/object_reader.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::intake {

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

/// Learns the decimal mark from a number while it is not settled; false where the number contradicts another.
bool CsvReader::settle_decimal(const Cell& cell, const Target& target)
{
    const auto marks = marks_of(cell.text);
    const auto is_mark = marks.kind == NumberMarks::Kind::decimal || marks.kind == NumberMarks::Kind::either;
    if (!is_mark)
        return true;  // what is no number is told where it is read
    if (doubt_ && doubt_->mark != marks.mark) {
        fault_at(cell.begin, cell.end,
                 fmt::format("found {} for \"{}\" in a file with {} in line {}",
                             diagnostics::quoted(cell.text), target.request->meaning,
                             doubt_->mark == ',' ? "a comma" : "a point", doubt_->fault.location.line),
                 "one decimal mark in the whole file",
                 "write numbers without marks of thousands, and state \"decimal\" in the run's \"format\"");
        doubt_.reset();
        decimal_ = marks.mark;
        return false;
    }
    if (marks.kind == NumberMarks::Kind::decimal) {
        decimal_ = marks.mark;
        doubt_.reset();
    } else if (!doubt_) {
        doubt_ = Doubt{
            marks.mark,
            diagnostic_at(
                cell.begin, cell.end,
                fmt::format("found {} for \"{}\", which can be read as {} and as {}",
                            diagnostics::quoted(cell.text), target.request->meaning, marks.as_decimal,
                            marks.ungrouped),
                "a stated decimal mark",
                fmt::format("state \"decimal\": \"{}\" in the run's \"format\" if {} is meant; write {} "
                            "without a mark of thousands if that is",
                            marks.mark, marks.as_decimal, marks.ungrouped))};
    }
    return true;
}

double CsvReader::no_number(const Cell& cell, const Target& target, std::string advice)
{
    const auto is_date_time = target.request->kind == ColumnKind::date_time;
    const auto marks = marks_of(cell.text);
    const auto is_decimal_comma = decimal_ == '.' && cell.text.find(',') != cell.text.npos;
    std::string expected = is_date_time ? "a date and time such as 2025-03-10T09:00:00" : "a number";
    if (!is_date_time && marks.kind == NumberMarks::Kind::grouped) {
        expected = "a number without marks of thousands";
        advice = fmt::format("write {}", marks.ungrouped);
        if (decimal_ == ',')
            std::ranges::replace(advice, '.', ',');
    } else if (marks.kind == NumberMarks::Kind::either) {
        expected = is_date_time ? expected : "a number that can be read in one way";
        advice =
            fmt::format("write {0} if the {1} marks thousands; state \"decimal\": \"{2}\" in the run's "
                        "\"format\" if it is the decimal mark ({3})",
                        marks.ungrouped, marks.mark == ',' ? "comma" : "point", marks.mark, marks.as_decimal);
    } else if (is_decimal_comma && advice.empty()) {
        advice = "state \"decimal\": \",\" in the run's \"format\" if the comma is the decimal mark";
    } else if (decimal_ == ',' && cell.text.find('.') != cell.text.npos && advice.empty()) {
        advice = "the decimal mark of this file is the comma";
    } else if (advice.empty()) {
        advice = "leave the cell empty where a reading is missing";
    }
    fault_at(cell.begin, cell.end,
             fmt::format("found {} for \"{}\"", diagnostics::quoted(cell.text), target.request->meaning),
             std::move(expected), std::move(advice));
    return missing_reading;
}

double CsvReader::number_of(const Cell& cell, const Target& target)
{
    if (cell.text.empty())
        return missing_reading;
    constexpr std::size_t longest_number = 64;
    std::array<char, longest_number> copy{};
    const auto digits = std::min(cell.text.size(), copy.size() - 1);
    std::copy_n(cell.text.begin(), digits, copy.begin());
    if (decimal_ == 0 && !settle_decimal(cell, target))
        return missing_reading;
    const auto mark = decimal_ == 0 && doubt_ ? doubt_->mark : decimal_;
    if (mark == ',') {
        std::replace(copy.begin(), copy.begin() + digits, '.', '\n');  // no number then
        std::replace(copy.begin(), copy.begin() + digits, ',', '.');
    }
    const auto* begin = copy.data();
    const auto* const end = begin + digits;
    if (digits > 1 && *begin == '+' && begin[1] != '-')
        ++begin;
    double value = 0;
    const auto [stop, error] = std::from_chars(begin, end, value);
    if (error == std::errc() && stop == end && digits == cell.text.size() &&
        std::abs(value) <= largest_magnitude)
        return value;
    std::string advice;
    if (error == std::errc::result_out_of_range)
        advice = "the number is beyond the range of numbers";
    else if (error == std::errc() && stop == end && std::abs(value) > largest_magnitude)
        advice = fmt::format("no reading is beyond {:g}", largest_magnitude);
    return no_number(cell, target, std::move(advice));
}

void CsvReader::take_text(const Cell& cell, Target& target)
{
    std::string text(cell.text);
    if (cell.quoted) {
        for (auto at = text.find("\"\""); at != text.npos; at = text.find("\"\"", at + 1))
            text.erase(at, 1);
    }
    auto& column = *target.texts;
    if (!column.values.empty() && column.values.back() != unread_text &&
        column.texts[column.values.back()] == text) {
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
        target.numbers->push_back(missing_reading);
        return;
    }
    if (target.request->kind == ColumnKind::time && parse_date_time(cell.text)) {
        fault_at(cell.begin, cell.end,
                 fmt::format("found {} for \"{}\"", diagnostics::quoted(cell.text), target.request->meaning),
                 "a number in the stated unit",
                 "leave \"unit\" out in the header where cells are dates and times");
        target.numbers->push_back(missing_reading);
        return;
    }
    const auto value = number_of(cell, target);
    target.numbers->push_back(value);
    if (target.request->is_condition && std::isnan(value) && cell.text.empty())
        fault_at(cell.begin, cell.end, fmt::format("found an empty cell for \"{}\"", target.request->meaning),
                 "a number in every row: it is a condition");
}

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

diagnostics::Diagnostic CsvReader::diagnostic_at(const char* begin, const char* end, std::string found,
                                                 std::string expected, std::string advice) const
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
    return fault;
}

void CsvReader::fault_at(const char* begin, const char* end, std::string found, std::string expected,
                         std::string advice)
{
    add(diagnostic_at(begin, end, std::move(found), std::move(expected), std::move(advice)));
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

}  // namespace luxdossier::intake
