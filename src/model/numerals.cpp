#include "model/numerals.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include <fmt/format.h>

namespace luxdossier::model {
namespace {

constexpr std::string_view minus = "\u2212";
constexpr std::string_view thin_space = "\u2009";
constexpr std::size_t longest_ungrouped = 4;  // four digits stand together

std::string grouped_integer(std::string_view digits)
{
    std::string text;
    for (std::size_t i = 0; i < digits.size(); ++i) {
        if (i > 0 && digits.size() > longest_ungrouped && (digits.size() - i) % 3 == 0)
            text += thin_space;
        text += digits[i];
    }
    return text;
}

std::string grouped_fraction(std::string_view digits)
{
    std::string text;
    for (std::size_t i = 0; i < digits.size(); ++i) {
        if (i > 0 && digits.size() > longest_ungrouped && i % 3 == 0)
            text += thin_space;
        text += digits[i];
    }
    return text;
}

}  // namespace

std::string grouped_digits(std::string_view plain)
{
    std::string text;
    if (plain.starts_with('-')) {
        if (plain.find_first_of("123456789") != std::string_view::npos)
            text += minus;
        plain.remove_prefix(1);
    }
    const auto point = plain.find('.');
    text += grouped_integer(plain.substr(0, point));
    if (point != std::string_view::npos) {
        text += '.';
        text += grouped_fraction(plain.substr(point + 1));
    }
    return text;
}

std::string numeral(double value, int digits)
{
    if (std::isnan(value))
        return "not a number";
    if (std::isinf(value))
        return value > 0 ? "∞" : std::string(minus) + "∞";
    const std::string scientific = fmt::format("{:.{}e}", value, digits - 1);
    const int exponent = std::atoi(scientific.c_str() + scientific.find('e') + 1);
    // The rounded digits themselves, shifted: printing the value anew would show digits beyond `digits`.
    std::string figures;
    std::ranges::copy_if(scientific.substr(0, scientific.find('e')), std::back_inserter(figures),
                         [](char c) { return c >= '0' && c <= '9'; });
    figures.erase(figures.find_last_not_of('0') + 1);
    if (figures.empty())
        return "0";
    std::string plain;
    if (exponent < 0) {
        plain = "0." + std::string(static_cast<std::size_t>(-exponent - 1), '0') + figures;
    } else {
        const auto whole = static_cast<std::size_t>(exponent) + 1;
        plain = figures.substr(0, whole) + std::string(whole - std::min(whole, figures.size()), '0');
        if (figures.size() > whole)
            plain += "." + figures.substr(whole);
    }
    return grouped_digits(value < 0 ? "-" + plain : plain);
}

}  // namespace luxdossier::model
