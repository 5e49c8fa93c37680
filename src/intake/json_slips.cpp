#include "intake/json_slips.hpp"

#include <algorithm>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

constexpr std::string_view blank = " \t\r\n";

struct Slip {
    std::size_t offset = 0;
    std::size_t length = 1;
    std::string found, expected, advice;
};

std::size_t word_length(std::string_view text)
{
    return std::clamp<std::size_t>(std::min(text.find_first_of(" \t\r\n,:[]{}\"'"), text.size()), 1, 40);
}

/// A text without its closing quote, or with a character that JSON does not allow inside.
bool explain_text(std::string_view text, Slip& slip)
{
    if (text.empty() || text.front() != '"')
        return false;
    const auto line_end = std::min(text.find_first_of("\r\n"), text.size());
    for (std::size_t i = 1; i < line_end; ++i) {
        if (text[i] == '"')
            return false;
        if (text[i] == '\\' &&
            (i + 1 >= line_end || std::string_view("\"\\/bfnrtu").find(text[i + 1]) == text.npos)) {
            slip.offset += i;
            slip.length = 2;
            slip.found = fmt::format("found {} in text", diagnostics::quoted(text.substr(i, 2)));
            slip.expected = "an escape of JSON such as \\\\ or \\\"";
            slip.advice = "write a backslash twice; paths take /";
            return true;
        }
        if (text[i] == '\\')
            ++i;
        else if (static_cast<unsigned char>(text[i]) < 0x20U) {
            slip.offset += i;
            slip.found = "found a control character in text";
            slip.advice = "write a tab as \\t";
            return true;
        }
    }
    slip.length = line_end;
    slip.found = "found text without its closing quote";
    slip.expected = "a \" before the end of the line";
    return true;
}

/// A token that is no JSON at all, whatever stands around it.
bool explain_word(std::string_view text, Slip& slip)
{
    if (explain_text(text, slip))
        return true;
    const auto word = text.substr(0, word_length(text));
    if (text.starts_with("//") || text.starts_with("/*") || text.front() == '#') {
        slip.length = text.front() == '#' ? 1 : 2;
        slip.found = "found a comment";
        slip.advice = "JSON has no comments; any object may hold a key \"comment\" instead";
    } else if (text.front() == '\'') {
        slip.found = "found a single quote";
        slip.expected = "a double quote";
    } else if (std::string_view("[]{}\",:").find(text.front()) == text.npos) {
        slip.length = word.size();
        slip.found = fmt::format("found {}", diagnostics::quoted(word));
        const auto lower_first = static_cast<char>(word.front() | 0x20);
        if (std::string_view("-+.0123456789").find(word.front()) != word.npos)
            slip.expected = "a number as JSON writes it, such as 0.5, -12 or 1e-3";
        else if (word == "NaN" || word == "nan" || word == "Infinity" || word == "inf")
            slip.expected = "a finite number";
        else if (lower_first == 't' || lower_first == 'f' || lower_first == 'n')
            slip.expected = "true, false, null, a number or text in double quotes";
        else
            slip.expected = "text in double quotes";
    } else {
        return false;
    }
    return true;
}

void explain_bracket(std::string_view text, Slip& slip, bool after_comma)
{
    if (after_comma && (text.front() == '}' || text.front() == ']')) {
        slip.found = fmt::format("found a comma before \"{}\"", text.front());
        slip.advice = "remove the comma before the closing bracket";
        return;
    }
    slip.found = fmt::format("found {}", diagnostics::quoted(text.substr(0, word_length(text))));
    if (text.front() == '"') {
        slip.length = std::min(text.find('"', 1), text.size() - 1) + 1;
        slip.found = fmt::format("found {}", text.substr(0, slip.length));
        slip.expected = "a comma or colon before it";
    } else {
        slip.expected = "another sign";
        slip.advice = "check commas, colons and brackets before this place";
    }
}

}  // namespace

diagnostics::Diagnostic explain_json_slip(const JsonText& source, std::size_t cursor, std::string pointer,
                                          bool number_out_of_range)
{
    const auto text = source.text();
    Slip slip;
    auto at = std::min(text.find_first_not_of(blank, cursor), text.size());
    auto after_comma = false;
    while (at < text.size() && (text[at] == ',' || text[at] == ':')) {
        const auto repeated = after_comma && text[at] == ',';
        after_comma = text[at] == ',';
        const auto next = std::min(text.find_first_not_of(blank, at + 1), text.size());
        if (repeated)
            break;
        at = next;
    }
    slip.offset = at;
    if (at >= text.size()) {
        slip.offset = text.find_last_not_of(blank) + 1;
        slip.found = "found the end of the file inside an object or array";
        slip.expected = "a closing bracket";
    } else if (number_out_of_range) {
        slip.length = word_length(text.substr(at));
        slip.found = fmt::format("found number {} beyond the range of numbers", text.substr(at, slip.length));
        slip.expected = "a magnitude below 1.8e308";
    } else if (!explain_word(text.substr(at), slip)) {
        explain_bracket(text.substr(at), slip, after_comma);
    }
    auto fault = source.diagnostic(slip.offset, slip.length, std::move(pointer));
    fault.found = slip.found;
    fault.expected = slip.expected;
    fault.advice = slip.advice;
    return fault;
}

}  // namespace luxdossier::intake
