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
        if (word.find("nf") != word.npos || word == "NaN" || word == "nan")
            slip.expected = "a finite number";
        else if (std::string_view("-+.0123456789").find(word.front()) != word.npos)
            slip.expected = "a number as JSON writes it, such as 0.5, -12 or 1e-3";
        else if (lower_first == 't' || lower_first == 'f' || lower_first == 'n')
            slip.expected = "true, false, null, a number or text in double quotes";
        else
            slip.expected = "text in double quotes";
    } else {
        return false;
    }
    return true;
}

/// What stands between the last good token and the first bad one.
struct Gap {
    std::size_t end = 0;  ///< where the bad token begins
    char separator = 0;   ///< the comma or colon passed, if any
};

Gap gap_behind(std::string_view text, std::size_t cursor)
{
    Gap gap{std::min(text.find_first_not_of(blank, cursor), text.size()), 0};
    if (gap.end < text.size() && (text[gap.end] == ',' || text[gap.end] == ':')) {
        gap.separator = text[gap.end];
        gap.end = std::min(text.find_first_not_of(blank, gap.end + 1), text.size());
    }
    return gap;
}

bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/// "0,025": JSON takes it for two values.
bool explain_decimal_comma(std::string_view text, const Gap& gap, Slip& slip)
{
    const auto at = gap.end;
    if (gap.separator != ',' || at < 2 || text[at - 1] != ',' || !is_digit(text[at - 2]) ||
        !is_digit(text[at]))
        return false;
    slip.length = word_length(text.substr(at));
    slip.found = fmt::format("found {} behind a comma", text.substr(at, slip.length));
    slip.expected = "a key in double quotes";
    slip.advice = "JSON writes a decimal point: 0.5, not 0,5";
    return true;
}

void explain_sign(std::string_view text, const Gap& gap, Slip& slip)
{
    const auto token = text.substr(gap.end);
    const auto closes = token.front() == '}' || token.front() == ']';
    if (gap.separator == ',' && closes) {
        slip.found = fmt::format("found a comma before \"{}\"", token.front());
        slip.advice = "remove the comma before the closing bracket";
        return;
    }
    if (token.front() == '"')
        slip.length = std::min(token.find('"', 1), token.size() - 1) + 1;
    slip.found = "found " + (token.front() == '"' ? std::string(token.substr(0, slip.length))
                                                  : diagnostics::quoted(token.substr(0, 1)));
    if (gap.separator == 0 && !closes)
        slip.expected = "a comma or colon before it";
    else
        slip.advice = "check commas, colons and brackets before this place";
}

}  // namespace

diagnostics::Diagnostic explain_json_slip(const JsonText& source, const JsonStop& stop)
{
    const auto text = source.text();
    const auto gap = gap_behind(text, stop.cursor);
    Slip slip;
    slip.offset = gap.end;
    const auto word = text.substr(gap.end, word_length(text.substr(gap.end)));
    if (gap.end >= text.size()) {
        slip.offset = text.find_last_not_of(blank) + 1;
        slip.found = "found the end of the file inside an object or array";
        slip.expected = "a closing bracket";
    } else if (stop.behind_the_end) {
        slip.length = word.size();
        slip.found = fmt::format("found {} behind the closing bracket", diagnostics::quoted(word));
        slip.expected = "the end of the file";
    } else if (stop.number_out_of_range) {
        slip.length = word.size();
        slip.found = fmt::format("found number {} beyond the range of numbers", word);
        slip.expected = std::string(magnitude_words);
    } else if (!explain_decimal_comma(text, gap, slip) && !explain_word(text.substr(gap.end), slip)) {
        explain_sign(text, gap, slip);
    } else if (gap.separator == 0 && stop.cursor > 0 && text[stop.cursor - 1] == '"' &&
               slip.expected == "text in double quotes") {
        slip.expected = "a comma or a closing bracket";
        slip.advice = "a double quote is missing in this line";
    }
    auto fault = source.diagnostic(slip.offset, slip.length, stop.pointer);
    fault.found = slip.found;
    fault.expected = slip.expected;
    fault.advice = slip.advice;
    return fault;
}

}  // namespace luxdossier::intake
