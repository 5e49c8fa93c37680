#include "intake/dates.hpp"

#include <charconv>

namespace luxdossier::intake {
namespace {

/// Exactly `digits` decimal digits at the front of the text, which are then removed.
std::optional<int> take_digits(std::string_view& text, std::size_t digits)
{
    if (text.size() < digits)
        return std::nullopt;
    int value = 0;
    for (std::size_t i = 0; i < digits; ++i) {
        if (text[i] < '0' || text[i] > '9')
            return std::nullopt;
        value = value * 10 + (text[i] - '0');
    }
    text.remove_prefix(digits);
    return value;
}

bool take(std::string_view& text, char expected)
{
    if (text.empty() || text.front() != expected)
        return false;
    text.remove_prefix(1);
    return true;
}

std::optional<model::Date> take_date(std::string_view& text)
{
    const auto year = take_digits(text, 4);
    if (!year || !take(text, '-'))
        return std::nullopt;
    const auto month = take_digits(text, 2);
    if (!month || !take(text, '-'))
        return std::nullopt;
    const auto day = take_digits(text, 2);
    if (!day)
        return std::nullopt;
    const std::chrono::year_month_day date{std::chrono::year{*year},
                                           std::chrono::month{static_cast<unsigned>(*month)},
                                           std::chrono::day{static_cast<unsigned>(*day)}};
    if (!date.ok())
        return std::nullopt;
    return model::Date{date};
}

/// Decimal fraction of a second behind its mark.
std::optional<double> take_fraction(std::string_view& text)
{
    if (!take(text, '.') && !take(text, ','))
        return 0.0;
    std::size_t digits = 0;
    while (digits < text.size() && text[digits] >= '0' && text[digits] <= '9')
        ++digits;
    if (digits == 0)
        return std::nullopt;
    double value = 0;
    double place = 1;
    for (std::size_t i = 0; i < digits; ++i) {
        value = value * 10 + (text[i] - '0');
        place *= 10;
    }
    text.remove_prefix(digits);
    return value / place;
}

/// Offset from UTC in seconds; 0 where none stands.
std::optional<double> take_offset(std::string_view& text)
{
    if (text.empty() || take(text, 'Z'))
        return 0.0;
    const auto east = take(text, '+');
    if (!east && !take(text, '-'))
        return std::nullopt;
    const auto hours = take_digits(text, 2);
    (void)take(text, ':');
    const auto minutes = text.empty() ? std::optional<int>(0) : take_digits(text, 2);
    if (!hours || !minutes || *hours > 23 || *minutes > 59)
        return std::nullopt;
    const auto seconds = *hours * 3600.0 + *minutes * 60.0;
    return east ? seconds : -seconds;
}

}  // namespace

std::optional<model::Date> parse_date(std::string_view text)
{
    const auto date = take_date(text);
    return text.empty() ? date : std::nullopt;
}

std::optional<double> parse_date_time(std::string_view text)
{
    const auto date = take_date(text);
    if (!date || (!take(text, 'T') && !take(text, ' ')))
        return std::nullopt;
    const auto hour = take_digits(text, 2);
    if (!hour || !take(text, ':'))
        return std::nullopt;
    const auto minute = take_digits(text, 2);
    if (!minute || *hour > 23 || *minute > 59)
        return std::nullopt;
    int second = 0;
    double fraction = 0;
    if (take(text, ':')) {
        const auto whole = take_digits(text, 2);
        const auto part = whole ? take_fraction(text) : std::nullopt;
        if (!part || *whole > 60)  // 60: a leap second
            return std::nullopt;
        second = *whole;
        fraction = *part;
    }
    const auto offset = take_offset(text);
    if (!offset || !text.empty())
        return std::nullopt;
    const auto days = static_cast<double>(date->time_since_epoch().count());
    return days * 86400.0 + *hour * 3600.0 + *minute * 60.0 + second - *offset + fraction;
}

}  // namespace luxdossier::intake
