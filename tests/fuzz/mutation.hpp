#pragma once

#include <cstdint>
#include <string>

namespace luxdossier::fuzz {

/// A text changed in one to four places: bytes flipped, ranges cut, doubled or moved, tokens that readers
/// trip over put in, numbers exchanged for extreme ones. The same seed gives the same text on every machine.
[[nodiscard]] std::string mutate(std::string text, std::uint64_t seed);

}  // namespace luxdossier::fuzz
