#include "diagnostics/diagnostic.hpp"

#include <algorithm>
#include <numeric>
#include <tuple>

#include <fmt/format.h>

namespace luxdossier::diagnostics {
namespace {

constexpr std::size_t shown_before_caret = 60;  // characters of a long line
constexpr std::size_t shown_in_all = 100;

bool continues_character(char byte)
{
    return (static_cast<unsigned char>(byte) & 0xC0U) == 0x80U;
}

/// Byte offset of the character that begins `characters` characters behind `from`; the end where there are
/// fewer.
std::size_t advance(std::string_view text, std::size_t from, std::size_t characters)
{
    auto at = from;
    while (at < text.size() && characters > 0) {
        ++at;
        while (at < text.size() && continues_character(text[at]))
            ++at;
        --characters;
    }
    return at;
}

/// Terminals obey control characters; a message shows a mark in their place. Tabs stay: the caret line
/// repeats them.
std::string harmless(std::string_view text)
{
    std::string shown;
    for (const auto byte : text) {
        if (byte != '\t' && (static_cast<unsigned char>(byte) < 0x20U || byte == '\x7F'))
            shown += "\uFFFD";
        else
            shown += byte;
    }
    return shown;
}

/// What stands under the line in front of the caret: tabs as tabs, so that the caret meets its character.
std::string caret_indent(std::string_view line, std::size_t characters)
{
    std::string indent;
    std::size_t at = 0;
    for (; characters > 0 && at < line.size(); --characters) {
        indent += line[at] == '\t' ? '\t' : ' ';
        at = advance(line, at, 1);
    }
    return indent + std::string(characters, ' ');
}

std::string source_excerpt(const Diagnostic& diagnostic)
{
    const auto& at = diagnostic.location;
    const auto number = fmt::format("{}", at.line);
    const std::string_view cut_before = diagnostic.line_start > 0 ? "..." : "";
    auto text = fmt::format("  {} | {}{}{}\n", number, cut_before, harmless(diagnostic.source_line),
                            diagnostic.line_cut ? "..." : "");
    if (diagnostic.caret_length > 0 && at.column > diagnostic.line_start)
        text += fmt::format("  {} | {}{}{}\n", std::string(number.size(), ' '),
                            std::string(cut_before.size(), ' '),
                            caret_indent(diagnostic.source_line, at.column - 1 - diagnostic.line_start),
                            std::string(diagnostic.caret_length, '^'));
    return text;
}

/// Edit distance in which a swap of neighbours is one edit (optimal string alignment).
std::size_t edit_distance(std::string_view a, std::string_view b)
{
    std::vector<std::size_t> before_last(b.size() + 1);
    std::vector<std::size_t> last(b.size() + 1);
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(last.begin(), last.end(), std::size_t{0});
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const auto substitution = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
            row[j] = std::min({substitution, last[j] + 1, row[j - 1] + 1});
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                row[j] = std::min(row[j], before_last[j - 2] + 1);
        }
        std::swap(before_last, last);
        std::swap(last, row);
    }
    return last[b.size()];
}

}  // namespace

bool Diagnostics::has_errors() const
{
    return std::ranges::any_of(all_, [](const Diagnostic& one) { return one.severity == Severity::error; });
}

void Diagnostics::sort_by_location(std::span<const std::string> files)
{
    std::vector<std::string> order(files.begin(), files.end());
    const auto rank = [&order](const Diagnostic& one) {
        const auto found = std::ranges::find(order, one.location.file);
        if (found != order.end())
            return found - order.begin();
        order.push_back(one.location.file);
        return static_cast<std::ptrdiff_t>(order.size()) - 1;
    };
    for (const auto& one : all_)
        (void)rank(one);
    std::ranges::stable_sort(all_, {}, [&rank](const Diagnostic& one) {
        return std::tuple(rank(one), one.location.line, one.location.column);
    });
    std::vector<Diagnostic> kept;
    for (auto& one : all_) {
        const auto repeated = std::ranges::any_of(kept, [&one](const Diagnostic& other) {
            return other.location == one.location && other.found == one.found &&
                   other.expected == one.expected;
        });
        if (!repeated)
            kept.push_back(std::move(one));
    }
    all_ = std::move(kept);
}

void Diagnostics::append(const Diagnostics& other)
{
    all_.insert(all_.end(), other.all_.begin(), other.all_.end());
}

std::string render(const Diagnostic& diagnostic)
{
    const auto& at = diagnostic.location;
    std::string text = at.file;
    if (at.line > 0)
        text += fmt::format(":{}", at.line);
    if (at.line > 0 && at.column > 0)
        text += fmt::format(":{}", at.column);
    if (!text.empty())
        text += ": ";
    text += diagnostic.severity == Severity::error ? "error: " : "warning: ";
    text += diagnostic.found;
    if (!diagnostic.expected.empty())
        text += ", expected " + diagnostic.expected;
    if (!at.pointer.empty())
        text += " (at " + at.pointer + ")";
    text += '\n';
    if (!diagnostic.source_line.empty() && at.line > 0)
        text += source_excerpt(diagnostic);
    if (!diagnostic.advice.empty())
        text += "  advice: " + diagnostic.advice + "\n";
    return text;
}

void point_at(Diagnostic& diagnostic, std::string_view line, std::size_t first_byte, std::size_t byte_count)
{
    first_byte = std::min(first_byte, line.size());
    byte_count = std::min(byte_count, line.size() - first_byte);
    const auto before = character_count(line.substr(0, first_byte));
    const auto in_all = character_count(line);
    const auto start =
        in_all <= shown_in_all || before <= shown_before_caret ? 0 : before - shown_before_caret;
    const auto begin = advance(line, 0, start);
    const auto end = advance(line, begin, shown_in_all);
    diagnostic.location.column = before + 1;
    diagnostic.line_start = start;
    diagnostic.line_cut = end < line.size();
    diagnostic.source_line = std::string(line.substr(begin, end - begin));
    const auto room = std::max<std::size_t>(1, shown_in_all - std::min(shown_in_all - 1, before - start));
    diagnostic.caret_length =
        std::clamp<std::size_t>(character_count(line.substr(first_byte, byte_count)), 1, room);
}

std::size_t character_count(std::string_view text)
{
    return static_cast<std::size_t>(
        std::ranges::count_if(text, [](char byte) { return !continues_character(byte); }));
}

std::string quoted(std::string_view text)
{
    constexpr std::size_t longest = 40;
    const auto end = advance(text, 0, longest);
    return '"' + harmless(text.substr(0, end)) + (end < text.size() ? "..." : "") + '"';
}

std::string_view nearest(std::string_view name, std::span<const std::string_view> candidates)
{
    std::string_view best;
    std::size_t best_distance = std::max<std::size_t>(1, name.size() / 3) + 1;
    for (const auto candidate : candidates) {
        const auto distance = edit_distance(name, candidate);
        if (distance < best_distance) {
            best_distance = distance;
            best = candidate;
        }
    }
    return best;
}

}  // namespace luxdossier::diagnostics
