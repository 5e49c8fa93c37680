#pragma once

// Debian 12 ships Catch2 v2, newer systems v3; tests include this header and work with both.
// Include it last: it is the heaviest header of a test.
#if __has_include(<catch2/catch_all.hpp>)
#include <catch2/catch_all.hpp>
#else
#include <catch2/catch.hpp>
#endif

#include <algorithm>
#include <cmath>
#include <string>

namespace luxdossier::test {

/// True where two values agree to a relative tolerance; equal values always agree.
[[nodiscard]] inline bool agree(double found, double expected, double relative, double absolute = 0.0)
{
    return found == expected ||
           std::abs(found - expected) <= std::max(absolute, relative * std::abs(expected));
}

}  // namespace luxdossier::test
