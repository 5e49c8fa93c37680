#include "seal/manifest.hpp"

#include "seal/scratch.hpp"
#include "seal/seal.hpp"

#include <cstdlib>
#include <string>

#include "support/catch.hpp"

using namespace luxdossier;

namespace {

/// Exit status of `sha256sum -c` inside the folder; --strict makes ill-formed lines fail too.
int check_by_coreutils(const std::filesystem::path& folder)
{
    return std::system(
        ("cd '" + folder.string() + "' && sha256sum --strict --quiet -c manifest-sha256.txt >/dev/null 2>&1")
            .c_str());
}

}  // namespace

TEST_CASE("sha256sum accepts the manifest, and refuses it after one byte has changed", "[seal]")
{
    const test::Scratch scratch;
    seal::write_file(scratch / "report.pdf", "pages");
    seal::write_file_below(scratch.path(), "inputs/runs/bare 1.csv", "1,2\n");
    seal::write_file(scratch / "a\\b\nc\rd.csv", "names that coreutils escapes");
    seal::write_file(scratch / "h\xc3\xa4lle.csv", "UTF-8");
    seal::write_manifest(scratch.path());
    CHECK(check_by_coreutils(scratch.path()) == 0);
    seal::write_file_below(scratch.path(), "inputs/runs/bare 1.csv", "1,3\n");
    CHECK(check_by_coreutils(scratch.path()) != 0);
}

TEST_CASE("a file is written piece by piece, and its digest is that of the pieces", "[seal]")
{
    const test::Scratch scratch;
    std::string content((std::size_t{1} << 20U) + 7, 'x');
    content.back() = '\0';
    const auto sha256 =
        seal::write_file_in_pieces_below(scratch.path(), "inputs/warm-up/log.csv", [&](const auto& append) {
            append(std::string_view(content).substr(0, 100));
            append(std::string_view(content).substr(100));
        });
    CHECK(seal::read_file(scratch / "inputs/warm-up/log.csv") == content);
    CHECK(sha256 == seal::sha256_hex(content));
}

TEST_CASE("the manifest lists every file but itself, sorted by bytes", "[seal]")
{
    const test::Scratch scratch;
    for (const auto* name : {"b", "B", "inputs/z", "inputs.csv", "a"})
        seal::write_file_below(scratch.path(), name, name);
    seal::write_manifest(scratch.path());
    seal::write_manifest(scratch.path());  // a second time: itself is still not listed
    std::string names;
    for (const auto& entry : seal::parse_manifest(seal::read_file(scratch / "manifest-sha256.txt")))
        names += entry.path + ";";
    CHECK(names == "B;a;b;inputs.csv;inputs/z;");
}

TEST_CASE("a manifest reads back as it was written", "[seal]")
{
    const std::string digest(64, 'a');
    const std::vector<seal::ManifestEntry> entries{
        {"a\\nb", digest}, {"a\nb", digest}, {"  two  spaces ", digest}};
    const auto read = seal::parse_manifest(seal::manifest_text(entries));
    REQUIRE(read.size() == entries.size());
    for (std::size_t i = 0; i < read.size(); ++i)
        CHECK(read[i].path == entries[i].path);
}

TEST_CASE("text that is no manifest gives no entries", "[seal]")
{
    CHECK(seal::parse_manifest("").empty());
    CHECK(seal::parse_manifest("shopping list\n").empty());
    const std::string digest(64, 'a'), no_digest(64, 'g');
    CHECK(seal::parse_manifest(digest + "  good\n" + no_digest + "  no hex digits\n").empty());
    CHECK(seal::parse_manifest(digest + "  ").empty());
}
