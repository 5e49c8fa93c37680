#pragma once

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>

namespace luxdossier::test {

// Figures that somebody else published. Where the environment names a file (LUXDOSSIER_PUBLISHED), every
// figure that was compared is appended to it: the list of docs/validation.md is made from what the tests
// found.

/// Half a unit of the last printed digit: 0.00005 of "0.0029", 0.5 of "59".
[[nodiscard]] inline double half_last_digit(std::string_view printed)
{
    const auto point = printed.find('.');
    const auto exponent = printed.find('e');
    const auto decimals =
        point == std::string_view::npos ? 0 : printed.substr(0, exponent).size() - point - 1;
    const double scale = exponent == std::string_view::npos
                             ? 1
                             : std::pow(10, std::atof(std::string(printed.substr(exponent + 1)).c_str()));
    return 0.5 * std::pow(10, -static_cast<double>(decimals)) * scale;
}

/// Number of correct digits (log relative error), at most the 15 that are certified.
[[nodiscard]] inline double correct_digits(double found, double certified)
{
    const double off = certified == 0 ? std::abs(found) : std::abs(found / certified - 1);
    return off == 0 ? 15.0 : std::fmin(15.0, -std::log10(off));
}

inline void list_published(const char* kind, std::string_view source, std::string_view what,
                           std::string_view printed, double found, double digits)
{
    const char* const path = std::getenv("LUXDOSSIER_PUBLISHED");
    if (path == nullptr)
        return;
    if (std::FILE* const file = std::fopen(path, "a")) {
        const auto text = [](std::string_view words) { return static_cast<int>(words.size()); };
        std::fprintf(file, "%s\t%.*s\t%.*s\t%.*s\t%.9g\t%.0f\n", kind, text(source), source.data(),
                     text(what), what.data(), text(printed), printed.data(), found, std::floor(digits));
        std::fclose(file);
    }
}

/// Empty where `found` rounds to the printed figure, else what is wrong: CHECK(published(...) == "").
[[nodiscard]] inline std::string published(std::string_view source, std::string_view what,
                                           std::string_view printed, double found)
{
    const double expected = std::atof(std::string(printed).c_str());
    list_published("printed", source, what, printed, found, correct_digits(found, expected));
    if (std::abs(found - expected) <= half_last_digit(printed) * (1 + 1e-9))
        return {};
    return std::string(source) + ", " + std::string(what) + ": found " + std::to_string(found) +
           ", printed " + std::string(printed);
}

/// Empty where `found` agrees with the certified figure to at least so many digits, else what is wrong.
[[nodiscard]] inline std::string certified(std::string_view source, std::string_view what,
                                           std::string_view figure, double found, double least_digits)
{
    const double digits = correct_digits(found, std::atof(std::string(figure).c_str()));
    list_published("certified", source, what, figure, found, digits);
    if (digits >= least_digits)
        return {};
    return std::string(source) + ", " + std::string(what) + ": " + std::to_string(digits) + " digits of " +
           std::string(figure);
}

}  // namespace luxdossier::test
