#include "report/numbers.hpp"

#include "model/numerals.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

constexpr std::string_view minus = "\u2212";
constexpr double most_printed_freedom = 10000;  // beyond it k no longer changes in print
constexpr std::string_view thin_space = "\u2009";
constexpr std::string_view narrow_no_break_space = "\u202f";

std::string not_finite(double value)
{
    if (std::isnan(value))
        return "not a number";
    return value > 0 ? "∞" : std::string(minus) + "∞";
}

std::string superscript(int exponent)
{
    static constexpr std::array<std::string_view, 10> digits{"⁰", "¹", "²", "³", "⁴",
                                                             "⁵", "⁶", "⁷", "⁸", "⁹"};
    std::string text = exponent < 0 ? "⁻" : "";
    for (const char digit : fmt::format("{}", std::abs(exponent)))
        text += digits.at(static_cast<std::size_t>(digit - '0'));
    return text;
}

// Decimal exponent of the value once it is rounded to `digits` significant digits: 0.0996 to 2 digits has -1.
int rounded_exponent(double value, int digits)
{
    const std::string text = fmt::format("{:.{}e}", std::abs(value), digits - 1);
    const auto mark = text.find('e');
    return std::stoi(text.substr(mark + 1));
}

}  // namespace

std::string number_text(double value, int decimals)
{
    if (!std::isfinite(value))
        return not_finite(value);
    if (decimals >= 0)
        return model::grouped_digits(fmt::format("{:.{}f}", value, decimals));
    // Round the exact decimal expansion, not value/10^n, which may tip a tie.
    const int digits = rounded_exponent(value, 17) + 1 + decimals;
    if (value == 0 || digits < 0)
        return "0";
    if (digits == 0) {
        const double place = std::pow(10.0, -decimals);
        return std::abs(value) * 2 > place
                   ? model::grouped_digits(fmt::format("{:.0f}", std::copysign(place, value)))
                   : "0";
    }
    return model::grouped_digits(fmt::format("{:.0f}", rounded_to_digits(value, digits)));
}

double rounded_to_digits(double value, int digits)
{
    const std::string text = fmt::format("{:.{}e}", value, digits - 1);
    double rounded = value;
    std::from_chars(text.data(), text.data() + text.size(), rounded);
    return rounded;
}

int decimals_of_uncertainty(double uncertainty, int digits)
{
    return digits - 1 - rounded_exponent(uncertainty, digits);
}

RoundedResult rounded_result(double value, double expanded_uncertainty)
{
    if (!(expanded_uncertainty > 0) || !std::isfinite(expanded_uncertainty))
        return {significant_text(value, 4),
                expanded_uncertainty == 0 ? "0" : not_finite(expanded_uncertainty)};
    const int decimals = decimals_of_uncertainty(expanded_uncertainty);
    return {number_text(value, decimals), number_text(expanded_uncertainty, decimals)};
}

std::string significant_text(double value, int digits)
{
    if (!std::isfinite(value))
        return not_finite(value);
    if (value == 0)
        return "0";
    const int exponent = rounded_exponent(value, digits);
    if (exponent >= 6 || exponent < -4) {
        const std::string text = fmt::format("{:.{}e}", value, digits - 1);
        return fmt::format("{}{}×{}10{}", model::grouped_digits(text.substr(0, text.find('e'))),
                           narrow_no_break_space, narrow_no_break_space, superscript(exponent));
    }
    return number_text(value, digits - 1 - exponent);
}

std::string stated_text(double value)
{
    if (!std::isfinite(value))
        return not_finite(value);
    const std::string shortest = fmt::format("{}", value);
    const auto mark = shortest.find('e');
    if (mark == std::string::npos) {
        return model::grouped_digits(shortest.ends_with(".0")
                                         ? std::string_view(shortest).substr(0, shortest.size() - 2)
                                         : std::string_view(shortest));
    }
    const auto point = shortest.find('.');
    const int mantissa_digits = point == std::string::npos ? 0 : static_cast<int>(mark - point - 1);
    const int exponent = std::stoi(shortest.substr(mark + 1));
    return model::grouped_digits(fmt::format("{:.{}f}", value, std::max(0, mantissa_digits - exponent)));
}

std::string degrees_of_freedom_text(double degrees_of_freedom)
{
    if (!std::isfinite(degrees_of_freedom))
        return "∞";
    if (degrees_of_freedom > most_printed_freedom)
        return "> " + number_text(most_printed_freedom, 0);
    const double floor = std::floor(degrees_of_freedom);
    return floor == degrees_of_freedom ? number_text(floor, 0) : number_text(degrees_of_freedom, 1);
}

std::string unit_text(std::string_view unit)
{
    static constexpr std::array<std::pair<std::string_view, std::string_view>, 14> printed{{
        {"1", ""},
        {"degree", "°"},
        {"degC", "°C"},
        {"year", "a"},
        {"%/year", "%/a"},
        {"W/m2", "W/m²"},
        {"W/m^2", "W/m²"},
        {"lx/(W/m2)", "lx/(W/m²)"},
        {"m2", "m²"},
        {"degree/degree", ""},
        {"1/K", "K⁻¹"},
        {"1/lx", "lx⁻¹"},
        {"1/s", "s⁻¹"},
        {"um", "µm"},
    }};
    const auto* const found =
        std::ranges::find(printed, unit, &std::pair<std::string_view, std::string_view>::first);
    return std::string(found == printed.end() ? unit : found->second);
}

std::string with_unit(std::string_view number, std::string_view unit)
{
    const std::string printed = unit_text(unit);
    if (printed.empty())
        return std::string(number);
    return fmt::format("{}{}{}", number, printed == "°" ? std::string_view() : narrow_no_break_space,
                       printed);
}

std::string percent_text(double fraction, int decimals)
{
    return with_unit(number_text(fraction * 100, decimals), "%");
}

double table_width_mm(std::string_view text)
{
    // Advance widths of the text face at 8.5 pt: tabular figures and signs, letters on average, points,
    // spaces.
    constexpr double figure_mm = 1.74, letter_mm = 1.6, point_mm = 0.75, space_mm = 0.6;
    double width = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        const auto byte = static_cast<unsigned char>(text[i]);
        if ((byte & 0xC0U) == 0x80U)
            continue;  // inside a character
        const bool space = byte == ' ' || text.substr(i).starts_with(thin_space) ||
                           text.substr(i).starts_with(narrow_no_break_space);
        if (space)
            width += space_mm;
        else if (std::string_view(".,:;()").find(text[i]) != std::string_view::npos)
            width += point_mm;
        else
            width += (byte >= '0' && byte <= '9') || byte >= 0x80U ? figure_mm : letter_mm;
    }
    return width;
}

void DecimalWidth::add(std::string_view text)
{
    const auto split = std::min({text.find('.'), text.find(" ±"), text.size()});
    before_mm = std::max(before_mm, table_width_mm(text.substr(0, split)));
    after_mm = std::max(after_mm, table_width_mm(text.substr(split)));
}

std::string probability_percent(double probability)
{
    constexpr double edge = 0.0005;  // rounds to 0 or 100 beyond it
    if (probability > 1 - edge)
        return "> 99.9";
    return probability < edge ? "< 0.1" : number_text(probability * 100, 1);
}

}  // namespace luxdossier::report
