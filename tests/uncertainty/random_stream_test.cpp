#include "uncertainty/random_stream.hpp"

#include <array>
#include <cstdint>
#include <set>

#include "support/catch.hpp"

using namespace luxdossier::uncertainty;

TEST_CASE("every lane of a stream is xoshiro256++", "[uncertainty]")
{
    // First ten outputs for the state {1, 2, 3, 4}, as the reference test of the Rust crate rand_xoshiro
    // prints them; it states that the authors' reference code xoshiro256plusplus.c produced them.
    constexpr std::array<std::uint64_t, 10> expected{
        41943041U,
        58720359U,
        3588806011781223U,
        3591011842654386U,
        9228616714210784205U,
        9973669472204895162U,
        14011001112246962877U,
        12406186145184390807U,
        15849039046786891736U,
        10450023813501588000U,
    };
    for (std::size_t lane = 0; lane < stream_lanes; ++lane) {
        Stream stream{};
        for (std::uint64_t word = 0; word < 4; ++word)
            stream.state[word][lane] = word + 1;
        for (const auto number : expected)
            CHECK(next_of_lane(stream, lane) == number);
    }
}

TEST_CASE("states are filled by SplitMix64", "[uncertainty]")
{
    // First five outputs for the seed 1234567, as the page on Splitmix64 of Rosetta Code lists them.
    SplitMix64 generator(1234567);
    for (const std::uint64_t number : {6457827717110365317U, 3203168211198807973U, 9817491932198370423U,
                                       4593380528125082431U, 16408922859458223821U})
        CHECK(generator.next() == number);
}

TEST_CASE("seed, identity and block each give another stream", "[uncertainty]")
{
    std::set<std::uint64_t> first_words;
    for (const std::uint64_t seed : {1U, 2U})
        for (const char* identity : {"meter:M1/certificate", "meter:M1/certificatf", "run:bare"})
            for (const std::uint64_t block : {0U, 1U, 1000U}) {
                const auto stream = stream_of(stream_key(seed, identity), block);
                for (const auto word : stream.state[0])
                    first_words.insert(word);
            }
    CHECK(first_words.size() == 2U * 3U * 3U * stream_lanes);
    const auto again = stream_of(stream_key(1, "run:bare"), 1000);
    CHECK(first_words.contains(again.state[0][7]));
}

TEST_CASE("numbers drawn lie strictly between 0 and 1", "[uncertainty]")
{
    CHECK(open_unit(0) == 0x1p-53);
    CHECK(open_unit(~std::uint64_t{0}) == 1.0 - 0x1p-53);
    CHECK(open_unit(std::uint64_t{1} << 63) == 0.5 + 0x1p-53);
}
