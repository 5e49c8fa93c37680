#include "intake/csv_heading.hpp"

#include "intake/object_reader.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr std::array<char, 4> known_delimiters{',', ';', '\t', '|'};

std::string_view without_blanks(std::string_view text, char delimiter)
{
    const auto is_blank = [delimiter](char c) { return c == ' ' || (c == '\t' && delimiter != '\t'); };
    while (!text.empty() && is_blank(text.front()))
        text.remove_prefix(1);
    while (!text.empty() && is_blank(text.back()))
        text.remove_suffix(1);
    return text;
}

std::size_t headings_found(const std::vector<std::string>& cells, std::span<const ColumnRequest> requests)
{
    return static_cast<std::size_t>(std::ranges::count_if(requests, [&cells](const ColumnRequest& request) {
        return std::ranges::find(cells, request.heading) != cells.end();
    }));
}

/// The delimiter under which all requested headings stand in the line; where several give the same cells, the
/// comma first. Empty where two readings differ; the most promising one where no reading is whole.
std::optional<char> infer_delimiter(std::string_view line, std::span<const ColumnRequest> requests)
{
    char best = known_delimiters.front();
    std::pair<std::size_t, std::size_t> best_score{0, 0};
    std::vector<std::vector<std::string>> whole;
    for (const auto delimiter : known_delimiters) {
        auto cells = split_line(line, delimiter);
        const std::pair score{headings_found(cells, requests), cells.size()};
        if (score.first == requests.size() && std::ranges::find(whole, cells) == whole.end())
            whole.push_back(std::move(cells));
        if (score > best_score) {
            best_score = score;
            best = delimiter;
        }
    }
    return whole.size() > 1 ? std::nullopt : std::optional(best);
}

}  // namespace

std::string delimiter_text(char delimiter)
{
    return delimiter == '\t' ? "a tab" : fmt::format("\"{}\"", delimiter);
}

std::vector<std::string> split_line(std::string_view line, char delimiter)
{
    std::vector<std::string> cells;
    std::size_t at = 0;
    for (;;) {
        while (at < line.size() && line[at] == ' ')
            ++at;
        std::string cell;
        if (at < line.size() && line[at] == '"') {
            ++at;
            while (at < line.size() && !(line[at] == '"' && (at + 1 >= line.size() || line[at + 1] != '"'))) {
                at += line[at] == '"' ? 1U : 0U;  // a doubled quote
                cell += line[at++];
            }
            ++at;
        }
        const auto end = std::min(line.find(delimiter, std::min(at, line.size())), line.size());
        cell += without_blanks(line.substr(std::min(at, line.size()), end - std::min(at, end)), delimiter);
        cells.push_back(std::move(cell));
        if (end >= line.size())
            return cells;
        at = end + 1;
    }
}

std::optional<CsvHeading> read_heading(const std::string& file, std::size_t line_number,
                                       std::string_view line, const std::optional<char>& delimiter,
                                       std::span<const ColumnRequest> requests,
                                       diagnostics::Diagnostics& diagnostics)
{
    auto whole = true;
    const auto told = [&](std::string found, std::string expected, std::string advice) {
        diagnostics::Diagnostic fault;
        fault.location = {file, line_number, 0, ""};
        diagnostics::point_at(fault, line, 0, line.size());
        fault.found = std::move(found);
        fault.expected = std::move(expected);
        fault.advice = std::move(advice);
        diagnostics.add(std::move(fault));
        whole = false;
    };
    const auto settled = delimiter ? delimiter : infer_delimiter(line, requests);
    if (!settled) {
        told("found headings that several delimiters give", "a stated delimiter",
             "state \"delimiter\" in the run's \"format\"");
        return std::nullopt;
    }
    if (delimiter && requests.size() > 1 && line.find(*delimiter) == line.npos) {
        told(fmt::format("found no {} in the heading line", delimiter_text(*delimiter)),
             "the stated delimiter", "correct \"delimiter\" in the run's \"format\"");
        return std::nullopt;
    }
    CsvHeading heading;
    heading.delimiter = *settled;
    heading.cells = split_line(line, *settled);
    heading.request_of_column.assign(heading.cells.size(), CsvHeading::unused);
    const std::vector<std::string_view> names(heading.cells.begin(), heading.cells.end());
    for (std::size_t i = 0; i < requests.size(); ++i) {
        const auto& wanted = requests[i].heading;
        const auto found = std::ranges::find(heading.cells, wanted);
        if (found == heading.cells.end()) {
            const auto near = diagnostics::nearest(wanted, names);
            told(fmt::format("found no heading {} for \"{}\"", diagnostics::quoted(wanted),
                             requests[i].meaning),
                 near.empty() ? "it in this line" : fmt::format("{}", diagnostics::quoted(near)),
                 "correct the heading here or \"column\" in the header");
            continue;
        }
        if (std::ranges::count(heading.cells, wanted) > 1)
            told(fmt::format("found heading {} twice", diagnostics::quoted(wanted)),
                 "a heading of its own for each column", "");
        auto& target = heading.request_of_column.at(static_cast<std::size_t>(found - heading.cells.begin()));
        if (target != CsvHeading::unused)
            told(fmt::format("found column {} for both \"{}\" and \"{}\"", diagnostics::quoted(wanted),
                             requests[static_cast<std::size_t>(target)].meaning, requests[i].meaning),
                 "a column of its own for each", "");
        target = static_cast<std::int32_t>(i);
    }
    return whole ? std::optional(std::move(heading)) : std::nullopt;
}

}  // namespace luxdossier::intake
