#pragma once

#include <cstddef>
#include <cstdint>
#include <string_view>

namespace luxdossier::uncertainty {

/// SplitMix64 (Steele, Lea, Flood 2014): fills the state of a generator from one number.
class SplitMix64 {
public:
    explicit SplitMix64(std::uint64_t state) : state_(state) {}
    [[nodiscard]] std::uint64_t next();

private:
    std::uint64_t state_;
};

inline constexpr std::size_t stream_lanes = 8;

/// Eight generators xoshiro256++ (Blackman, Vigna 2019) side by side, one word of state after the other: the
/// instructions of every machine advance them together, and draw k always comes from lane k mod 8.
///
/// JCGM 101:2008, C.3 asks for a generator that passes a stated battery of tests; its authors report BigCrush
/// for this one.
struct alignas(64) Stream {
    std::uint64_t state[4][stream_lanes];
};

/// Key of the draws of one input: a function of the seed and of its identity alone, so that what is drawn for
/// it does not depend on which other inputs there are.
[[nodiscard]] std::uint64_t stream_key(std::uint64_t seed, std::string_view identity);

/// The stream of one key for one part of the trials, so that parts may be drawn in any order.
[[nodiscard]] Stream stream_of(std::uint64_t key, std::uint64_t part);

/// Next number of one lane: the reference that the block kernels are checked against.
[[nodiscard]] std::uint64_t next_of_lane(Stream& stream, std::size_t lane);

/// 52 random bits as a number in (0, 1), ends excluded: an odd multiple of 2^-53.
[[nodiscard]] double open_unit(std::uint64_t bits);

}  // namespace luxdossier::uncertainty
