#include "seal/seal.hpp"

#include "seal/scratch.hpp"

#include <string>
#include <system_error>

#include "support/catch.hpp"

using namespace luxdossier;

TEST_CASE("SHA-256 agrees with the examples of the standard", "[seal]")
{
    // FIPS 180-4 examples published by NIST: "abc", the two-block message, a million times "a"; and the empty
    // message.
    CHECK(seal::sha256_hex("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(seal::sha256_hex("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") ==
          "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    CHECK(seal::sha256_hex(std::string(1000000, 'a')) ==
          "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
    CHECK(seal::sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_CASE("a file larger than one piece has the digest of its bytes", "[seal]")
{
    const test::Scratch scratch;
    const std::string bytes(3 * 1024 * 1024 + 7, '\x7f');
    seal::write_file(scratch / "big", bytes);
    CHECK(seal::sha256_hex_of_file(scratch / "big") == seal::sha256_hex(bytes));
    CHECK(seal::read_file(scratch / "big") == bytes);
}

TEST_CASE("a file that cannot be read or written is named", "[seal]")
{
    const test::Scratch scratch;
    const auto missing = scratch / "missing.csv";
    CHECK_THROWS_AS(seal::sha256_hex_of_file(missing), std::system_error);
    CHECK_THROWS_WITH(seal::sha256_hex_of_file(missing),
                      "cannot read " + missing.string() + ": No such file or directory");
    seal::write_file(scratch / "file", "x");
    CHECK_THROWS_AS(seal::write_file(scratch / "file/below", "x"), std::system_error);
    CHECK_THROWS_WITH(seal::write_file(scratch.path(), "x"),
                      "cannot write " + scratch.path().string() + ": Is a directory");
    CHECK_THROWS_AS(seal::write_file("/dev/full", "x"), std::system_error);
}
