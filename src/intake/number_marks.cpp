#include "intake/number_marks.hpp"

#include <array>
#include <cstddef>

namespace luxdossier::intake {
namespace {

bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

std::size_t digits_at(std::string_view text)
{
    std::size_t count = 0;
    while (count < text.size() && is_digit(text[count]))
        ++count;
    return count;
}

/// The sign between two groups that the text begins with; empty where it is none.
std::string_view separator_at(std::string_view text)
{
    // Blank, comma, point, apostrophe, low line; no-break, figure, thin and narrow no-break space; right
    // quote.
    static constexpr std::array<std::string_view, 10> separators{
        " ", ",", ".", "'", "_", "\xC2\xA0", "\xE2\x80\x87", "\xE2\x80\x89", "\xE2\x80\xAF", "\xE2\x80\x99"};
    for (const auto separator : separators)
        if (text.starts_with(separator))
            return separator;
    return {};
}

/// The number as groups of three digits; kind none where it is no such number.
NumberMarks grouped(std::string_view sign, std::string_view text)
{
    constexpr std::size_t group = 3;
    const auto first = digits_at(text);
    if (first == 0 || first > group || text.front() == '0')
        return {};
    auto rest = text.substr(first);
    const auto separator = separator_at(rest);
    if (separator.empty())
        return {};
    NumberMarks marks;
    marks.ungrouped = std::string(sign) + std::string(text.substr(0, first));
    std::size_t groups = 0;
    while (rest.starts_with(separator) && digits_at(rest.substr(separator.size())) == group) {
        marks.ungrouped += rest.substr(separator.size(), group);
        rest.remove_prefix(separator.size() + group);
        ++groups;
    }
    if (groups == 0)
        return {};
    const auto is_mark = separator == "," || separator == ".";
    if (rest.empty()) {
        marks.kind = groups == 1 && is_mark ? NumberMarks::Kind::either : NumberMarks::Kind::grouped;
        if (marks.kind == NumberMarks::Kind::either) {
            marks.mark = separator.front();
            marks.as_decimal = std::string(sign) + std::string(text.substr(0, first)) + "." +
                               std::string(text.substr(first + 1));
        }
        return marks;
    }
    const auto has_decimals = (rest.front() == '.' || rest.front() == ',') &&
                              rest.substr(0, 1) != separator && digits_at(rest.substr(1)) == rest.size() - 1;
    if (!has_decimals)
        return {};
    marks.kind = NumberMarks::Kind::grouped;
    if (rest.size() > 1)
        marks.ungrouped += "." + std::string(rest.substr(1));
    return marks;
}

/// One point or comma among digits, an exponent behind them.
bool has_one_mark(std::string_view text, char& mark)
{
    const auto whole = digits_at(text);
    auto rest = text.substr(whole);
    if (rest.empty() || (rest.front() != '.' && rest.front() != ','))
        return false;
    mark = rest.front();
    rest.remove_prefix(1);
    const auto decimals = digits_at(rest);
    rest.remove_prefix(decimals);
    if (whole + decimals == 0)
        return false;
    if (!rest.empty() && (rest.front() == 'e' || rest.front() == 'E')) {
        rest.remove_prefix(1);
        if (!rest.empty() && (rest.front() == '+' || rest.front() == '-'))
            rest.remove_prefix(1);
        return !rest.empty() && digits_at(rest) == rest.size();
    }
    return rest.empty();
}

}  // namespace

NumberMarks marks_of(std::string_view text)
{
    std::string_view sign;
    if (!text.empty() && (text.front() == '+' || text.front() == '-')) {
        sign = text.front() == '-' ? text.substr(0, 1) : std::string_view();
        text.remove_prefix(1);
    }
    auto marks = grouped(sign, text);
    if (marks.kind == NumberMarks::Kind::none && has_one_mark(text, marks.mark))
        marks.kind = NumberMarks::Kind::decimal;
    return marks;
}

}  // namespace luxdossier::intake
