#include "workbook/names.hpp"

#include <algorithm>
#include <cctype>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

constexpr std::size_t longest_sheet_name = 31;

std::string column_name(std::uint16_t column)
{
    std::string name;
    for (unsigned rest = column + 1U; rest > 0; rest = (rest - 1) / 26)
        name.insert(name.begin(), static_cast<char>('A' + (rest - 1) % 26));
    return name;
}

bool is_plain_word(std::string_view name)
{
    return !name.empty() &&
           std::ranges::all_of(name, [](char c) { return (c >= 'a' && c <= 'z') || c == '_'; });
}

std::string sheet_prefix(std::string_view sheet)
{
    // Lower-case words without digits can be no cell names and need no apostrophes.
    if (is_plain_word(sheet))
        return fmt::format("{}!", sheet);
    std::string name;
    for (const char c : sheet) {
        name += c;
        if (c == '\'')
            name += c;
    }
    return fmt::format("'{}'!", name);
}

std::string lower(std::string_view text)
{
    std::string result(text);
    std::ranges::transform(result, result.begin(), [](char c) {
        return static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
    });
    return result;
}

/// Length of the longest prefix of at most `bytes` bytes that ends between two characters of UTF-8.
std::size_t whole_characters(std::string_view text, std::size_t bytes)
{
    if (text.size() <= bytes)
        return text.size();
    while (bytes > 0 && (static_cast<unsigned char>(text[bytes]) & 0xC0U) == 0x80U)
        --bytes;
    return bytes;
}

/// U+FFFE or U+FFFF, which XML does not hold.
bool is_no_character(std::string_view text)
{
    return text.starts_with("\xEF\xBF\xBE") || text.starts_with("\xEF\xBF\xBF");
}

bool reads_like_escape(std::string_view text)
{
    return text.size() >= 7 && text.substr(0, 2) == "_x" && text[6] == '_' &&
           std::ranges::all_of(text.substr(2, 4), [](unsigned char c) { return std::isxdigit(c) != 0; });
}

}  // namespace

std::string cell_name(Position position)
{
    return fmt::format("{}{}", column_name(position.column), position.row + 1);
}

std::string reference(std::string_view sheet, Position position)
{
    return sheet_prefix(sheet) + cell_name(position);
}

std::string absolute_reference(std::string_view sheet, Position position)
{
    return fmt::format("{}${}${}", sheet_prefix(sheet), column_name(position.column), position.row + 1);
}

std::string range_reference(std::string_view sheet, Position first, Position last)
{
    return fmt::format("{}{}:{}", sheet_prefix(sheet), cell_name(first), cell_name(last));
}

std::string quoted(std::string_view text)
{
    std::string result = "\"";
    for (const char c : text) {
        result += c;
        if (c == '"')
            result += c;
    }
    return result + "\"";
}

std::string cell_text(std::string_view text)
{
    std::string result;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const auto c = static_cast<unsigned char>(text[i]);
        if (reads_like_escape(text.substr(i)))
            result += "_x005F_";
        else if (c < 0x20 && c != '\t' && c != '\n')
            result += fmt::format("_x{:04X}_", c);
        else if (is_no_character(text.substr(i))) {
            result += text[i + 2] == '\xBE' ? "_xFFFE_" : "_xFFFF_";
            i += 2;
        } else
            result += text[i];
    }
    constexpr std::string_view ending = " ... (cut: a cell holds no more)";
    if (result.size() > longest_text)
        result =
            result.substr(0, whole_characters(result, longest_text - ending.size())) + std::string(ending);
    return result;
}

std::string sheet_name(std::string_view wanted, std::vector<std::string>& taken)
{
    std::string name;
    for (const char c : wanted)
        name += std::string_view("[]:*?/\\").find(c) != std::string_view::npos ||
                        static_cast<unsigned char>(c) < 0x20
                    ? '-'
                    : c;
    while (!name.empty() && name.front() == '\'')
        name.erase(0, 1);
    if (name.empty() || lower(name) == "history")
        name += " sheet";
    const auto is_taken = [&](const std::string& candidate) {
        return std::ranges::any_of(taken,
                                   [&](const auto& other) { return lower(other) == lower(candidate); });
    };
    std::string candidate = name.substr(0, whole_characters(name, longest_sheet_name));
    for (std::size_t number = 2; is_taken(candidate) || candidate.back() == '\''; ++number) {
        const auto suffix = fmt::format(" ({})", number);
        candidate = name.substr(0, whole_characters(name, longest_sheet_name - suffix.size())) + suffix;
    }
    taken.push_back(candidate);
    return candidate;
}

}  // namespace luxdossier::workbook
