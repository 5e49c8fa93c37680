#include "uncertainty/random_stream.hpp"

#include <bit>

namespace luxdossier::uncertainty {
namespace {

constexpr std::uint64_t golden_ratio = 0x9E3779B97F4A7C15ULL;

/// FNV-1a, 64 bits.
std::uint64_t hash_of(std::string_view text)
{
    std::uint64_t hash = 0xCBF29CE484222325ULL;
    for (const char character : text)
        hash = (hash ^ static_cast<unsigned char>(character)) * 0x100000001B3ULL;
    return hash;
}

}  // namespace

std::uint64_t SplitMix64::next()
{
    state_ += golden_ratio;
    std::uint64_t mixed = state_;
    mixed = (mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9ULL;
    mixed = (mixed ^ (mixed >> 27)) * 0x94D049BB133111EBULL;
    return mixed ^ (mixed >> 31);
}

std::uint64_t stream_key(std::uint64_t seed, std::string_view identity)
{
    return SplitMix64(SplitMix64(seed).next() ^ hash_of(identity)).next();
}

Stream stream_of(std::uint64_t key, std::uint64_t part)
{
    SplitMix64 filler(key ^ SplitMix64(part).next());
    Stream stream{};
    for (std::size_t lane = 0; lane < stream_lanes; ++lane)
        for (auto& word : stream.state)
            word[lane] = filler.next();
    return stream;
}

std::uint64_t next_of_lane(Stream& stream, std::size_t lane)
{
    auto& [s0, s1, s2, s3] = stream.state;
    const std::uint64_t result = std::rotl(s0[lane] + s3[lane], 23) + s0[lane];
    const std::uint64_t shifted = s1[lane] << 17;
    s2[lane] ^= s0[lane];
    s3[lane] ^= s1[lane];
    s1[lane] ^= s2[lane];
    s0[lane] ^= s3[lane];
    s2[lane] ^= shifted;
    s3[lane] = std::rotl(s3[lane], 45);
    return result;
}

double open_unit(std::uint64_t bits)
{
    return std::bit_cast<double>((bits >> 12) | 0x3FF0000000000000ULL) - (1.0 - 0x1p-53);
}

}  // namespace luxdossier::uncertainty
