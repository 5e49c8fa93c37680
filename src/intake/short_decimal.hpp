#pragma once

#include <array>
#include <cstdint>

namespace luxdossier::intake {

/// Reads "-12.345": an optional minus, digits, and a point with digits where there is one, 15 digits at most.
/// Returns the end, or nullptr where the text is anything else or longer; `at` must end in a character that
/// is no digit.
///
/// The value has the bits of std::from_chars: the digits as a whole number and the power of ten are exact, so
/// that their quotient is rounded once (Clinger, Proc. PLDI 1990).
[[nodiscard]] inline const char* read_short_decimal(const char* at, double& value)
{
    constexpr int most_digits = 15;
    constexpr std::array powers{1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    const bool negative = *at == '-';
    at += negative ? 1 : 0;
    const auto digit = [](char c) {
        return static_cast<unsigned>(static_cast<unsigned char>(c)) - unsigned{'0'};
    };
    std::uint64_t digits = 0;
    const auto* const first = at;
    for (; digit(*at) < 10; ++at)
        digits = digits * 10 + digit(*at);
    auto count = at - first;
    std::ptrdiff_t decimals = 0;
    if (count > 0 && *at == '.') {
        const auto* const point = at++;
        for (; digit(*at) < 10; ++at)
            digits = digits * 10 + digit(*at);
        decimals = at - point - 1;
        if (decimals == 0)
            return nullptr;
        count += decimals;
    }
    if (count == 0 || count > most_digits)
        return nullptr;
    value = static_cast<double>(digits) / powers[static_cast<std::size_t>(decimals)];
    if (negative)
        value = -value;
    return at;
}

}  // namespace luxdossier::intake
