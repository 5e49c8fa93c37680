#include "seal/manifest.hpp"
#include "seal/scratch.hpp"
#include "seal/seal.hpp"

#include <csignal>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <iterator>
#include <stdexcept>
#include <string>
#include <system_error>

#include <sys/wait.h>
#include <unistd.h>

#include "support/catch.hpp"

using namespace luxdossier;
namespace fs = std::filesystem;

namespace {

std::ptrdiff_t entries_in(const fs::path& folder)
{
    return std::distance(fs::directory_iterator(folder), fs::directory_iterator());
}

void fill_dossier(const fs::path& folder, const std::string& text)
{
    seal::write_file(folder / "record.json", text);
    seal::write_file_below(folder, "inputs/qualification.json", "{}");
    seal::write_manifest(folder);
}

void publish(const fs::path& target, bool replace, const std::string& text)
{
    seal::publish_folder(target, replace, [&text](const fs::path& folder) { fill_dossier(folder, text); });
}

}  // namespace

TEST_CASE("a folder appears with all that was written, and nothing beside it", "[seal]")
{
    const test::Scratch scratch;
    publish(scratch / "dossier/", false, "first");
    CHECK(seal::read_file(scratch / "dossier/record.json") == "first");
    CHECK(entries_in(scratch.path()) == 1);
    // The permissions are those of an ordinary new folder.
    fs::create_directory(scratch / "ordinary");
    CHECK(fs::status(scratch / "dossier").permissions() == fs::status(scratch / "ordinary").permissions());
}

TEST_CASE("an existing folder is refused without leave to replace, and untouched", "[seal]")
{
    const test::Scratch scratch;
    publish(scratch / "dossier", false, "first");
    CHECK_THROWS_AS(publish(scratch / "dossier", false, "second"), seal::Refusal);
    CHECK_THROWS_WITH(
        publish(scratch / "dossier", false, "second"),
        (scratch / "dossier").string() +
            " is there already\n  advice: add --replace to put the new dossier in its place, or give "
            "another name with --out");
    CHECK(seal::read_file(scratch / "dossier/record.json") == "first");
    // An empty folder is an existing folder too, although rename(2) would take its place.
    fs::create_directory(scratch / "empty");
    CHECK_THROWS_AS(publish(scratch / "empty", false, "x"), seal::Refusal);
}

TEST_CASE("replacing exchanges a dossier and removes the old one", "[seal]")
{
    const test::Scratch scratch;
    publish(scratch / "dossier", false, "first");
    publish(scratch / "dossier", true, "second");
    CHECK(seal::read_file(scratch / "dossier/record.json") == "second");
    CHECK(entries_in(scratch.path()) == 1);
    publish(scratch / "new", true, "replacing what is not there is no fault");
    CHECK(fs::exists(scratch / "new/record.json"));
}

TEST_CASE("a folder that is no dossier is never replaced", "[seal]")
{
    const test::Scratch scratch;
    seal::write_file_below(scratch.path(), "photos/one.jpg", "dear");
    CHECK_THROWS_AS(publish(scratch / "photos", true, "x"), seal::Refusal);
    // Somebody else's manifest does not make a dossier.
    seal::write_manifest(scratch / "photos");
    CHECK_THROWS_AS(publish(scratch / "photos", true, "x"), seal::Refusal);
    CHECK(seal::read_file(scratch / "photos/one.jpg") == "dear");
    // Nor is a file or a link replaced.
    seal::write_file(scratch / "file", "dear");
    CHECK_THROWS_AS(publish(scratch / "file", true, "x"), seal::Refusal);
    publish(scratch / "dossier", false, "first");
    fs::create_directory_symlink(scratch / "dossier", scratch / "link");
    CHECK_THROWS_AS(publish(scratch / "link", true, "x"), seal::Refusal);
    fs::create_directory_symlink(scratch / "nowhere", scratch / "dangling");
    CHECK_THROWS_AS(publish(scratch / "dangling", false, "x"), seal::Refusal);
    CHECK(seal::read_file(scratch / "dossier/record.json") == "first");
}

TEST_CASE("a dossier that holds a file of the user's own is not replaced", "[seal]")
{
    const test::Scratch scratch;
    publish(scratch / "dossier", false, "first");
    seal::write_file_below(scratch.path(), "dossier/notes.txt", "mine");
    CHECK_THROWS_WITH(publish(scratch / "dossier", true, "second"),
                      (scratch / "dossier").string() +
                          " holds notes.txt, which its manifest does not list and which would be lost\n"
                          "  advice: move that file elsewhere, then run again");
    CHECK(seal::read_file(scratch / "dossier/notes.txt") == "mine");
}

TEST_CASE("a dossier that is not as it was sealed is not replaced, and what differs is named", "[seal]")
{
    const test::Scratch scratch;
    const auto dossier = scratch / "dossier";
    publish(dossier, false, "first");
    const auto refused_for = [&](const std::string& words) {
        CHECK_THROWS_WITH(publish(dossier, true, "second"),
                          dossier.string() + " " + words +
                              "\n  advice: to keep it, move the folder elsewhere; or write the new dossier "
                              "elsewhere with --out");
        CHECK(entries_in(scratch.path()) == 1);
    };
    SECTION("a signed report is a file that was changed")
    {
        seal::write_file(dossier / "record.json", "first, and signed");
        refused_for("holds record.json, which was changed since it was sealed and would be lost");
        CHECK(seal::read_file(dossier / "record.json") == "first, and signed");
    }
    SECTION("a file that was taken out")
    {
        fs::remove(dossier / "inputs/qualification.json");
        refused_for("lacks inputs/qualification.json, which its manifest lists: it is not as it was sealed");
    }
    SECTION("a link in the place of a file")
    {
        fs::rename(dossier / "inputs/qualification.json", scratch / "qualification.json");
        fs::create_symlink(scratch / "qualification.json", dossier / "inputs/qualification.json");
        CHECK_THROWS_AS(publish(dossier, true, "second"), seal::Refusal);
        CHECK(fs::is_symlink(dossier / "inputs/qualification.json"));
    }
    SECTION("a folder of somebody else, though it is empty")
    {
        fs::create_directories(dossier / "inputs/photos");
        refused_for(
            "holds the folder inputs/photos, which its manifest does not list and which would be lost");
    }
    SECTION("a link to a folder")
    {
        fs::create_directory_symlink(scratch.path(), dossier / "around");
        refused_for("holds the link around, which its manifest does not list and which would be lost");
    }
}

TEST_CASE("what stands at the target when the work is done is what stood there before, or stays", "[seal]")
{
    const test::Scratch scratch;
    const auto dossier = scratch / "dossier";
    // `fill` runs between the first look and the exchange: others may do meanwhile what they like.
    const auto publish_while = [&](const std::function<void()>& others_work) {
        seal::publish_folder(dossier, true, [&](const fs::path& folder) {
            fill_dossier(folder, "second");
            others_work();
        });
    };
    SECTION("a folder of somebody else that was made meanwhile")
    {
        CHECK_THROWS_AS(
            publish_while([&] { seal::write_file_below(scratch.path(), "dossier/mine", "dear"); }),
            seal::Refusal);
        CHECK(seal::read_file(dossier / "mine") == "dear");
    }
    SECTION("a dossier that was made meanwhile")
    {
        CHECK_THROWS_AS(publish_while([&] { publish(dossier, false, "other"); }), seal::Refusal);
        CHECK(seal::read_file(dossier / "record.json") == "other");
    }
    SECTION("a note that was put into the older dossier meanwhile")
    {
        publish(dossier, false, "first");
        CHECK_THROWS_AS(publish_while([&] { seal::write_file(dossier / "inputs/note", "dear"); }),
                        seal::Refusal);
        CHECK(seal::read_file(dossier / "inputs/note") == "dear");
        CHECK(seal::read_file(dossier / "record.json") == "first");
    }
    SECTION("a report that was signed meanwhile")
    {
        publish(dossier, false, "first");
        CHECK_THROWS_AS(publish_while([&] { seal::write_file(dossier / "record.json", "signed"); }),
                        seal::Refusal);
        CHECK(seal::read_file(dossier / "record.json") == "signed");
    }
    SECTION("the dossier of another run in its place")
    {
        publish(dossier, false, "first");
        CHECK_THROWS_AS(publish_while([&] { publish(dossier, true, "third"); }), seal::Refusal);
        CHECK(seal::read_file(dossier / "record.json") == "third");
    }
    CHECK(entries_in(scratch.path()) == 1);
}

TEST_CASE("the caller has a word in what may be replaced, before the work and after it", "[seal]")
{
    const test::Scratch scratch;
    const auto dossier = scratch / "dossier";
    publish(dossier, false, "first");
    int looked = 0;
    const seal::Examine examine = [&](const fs::path& folder, const std::string& shown) {
        CHECK(seal::read_file(folder / "record.json") == "first");
        CHECK(shown == dossier.string());
        if (++looked == 2)
            throw seal::Refusal("not this one");
    };
    const auto standing = seal::check_target(dossier, true, examine);
    CHECK_THROWS_WITH(seal::publish_folder(
                          standing, [](const fs::path& folder) { fill_dossier(folder, "x"); }, examine),
                      "not this one");
    CHECK(looked == 2);
    CHECK(seal::read_file(dossier / "record.json") == "first");
    CHECK(entries_in(scratch.path()) == 1);
}

TEST_CASE("nothing is written into a sealed dossier", "[seal]")
{
    const test::Scratch scratch;
    publish(scratch / "dossier", false, "first");
    CHECK_THROWS_WITH(publish(scratch / "dossier/inputs/dossier", false, "second"),
                      (scratch / "dossier/inputs/dossier").string() + " would lie inside the dossier " +
                          fs::canonical(scratch / "dossier").string() +
                          ", which is sealed\n  advice: give a folder elsewhere with --out");
    CHECK(entries_in(scratch / "dossier/inputs") == 1);
    // Also by a way around.
    fs::create_directory_symlink(scratch / "dossier/inputs", scratch / "around");
    CHECK_THROWS_AS(publish(scratch / "around/dossier", false, "second"), seal::Refusal);
}

TEST_CASE("a folder is sealed only where it reads back as it was written", "[seal]")
{
    const test::Scratch scratch;
    const auto sha256 = seal::write_file(scratch / "a", "one");
    CHECK(sha256 == seal::sha256_hex("one"));
    seal::write_manifest(scratch.path(), {{"a", sha256}});
    CHECK(seal::parse_manifest(seal::read_file(scratch / "manifest-sha256.txt")).size() == 1);
    seal::write_file(scratch / "a", "two");
    const auto message = (scratch / "a").string() + " does not read back as it was written";
    CHECK_THROWS_WITH(seal::write_manifest(scratch.path(), {{"a", sha256}}),
                      message + ": Input/output error");
    fs::remove(scratch / "a");
    CHECK_THROWS_AS(seal::write_manifest(scratch.path(), {{"a", sha256}}), std::system_error);
    seal::write_file(scratch / "a", "one");
    seal::write_file(scratch / "stray", "");
    CHECK_THROWS_AS(seal::write_manifest(scratch.path(), {{"a", sha256}}), std::system_error);
}

TEST_CASE("nothing is left behind where filling fails", "[seal]")
{
    const test::Scratch scratch;
    publish(scratch / "dossier", false, "first");
    const auto fail = [](const fs::path& folder) {
        fill_dossier(folder, "half");
        throw std::runtime_error("no more ink");
    };
    CHECK_THROWS_WITH(seal::publish_folder(scratch / "other", false, fail), "no more ink");
    CHECK_THROWS_WITH(seal::publish_folder(scratch / "dossier", true, fail), "no more ink");
    CHECK(entries_in(scratch.path()) == 1);
    CHECK(seal::read_file(scratch / "dossier/record.json") == "first");
}

TEST_CASE("a place that cannot be written to is an error of the environment", "[seal]")
{
    const test::Scratch scratch;
    CHECK_THROWS_AS(publish("/proc/luxdossier/dossier", false, "x"), std::system_error);
    CHECK_THROWS_WITH(publish(scratch / "nowhere/dossier", false, "x"),
                      "cannot make a folder beside " + (scratch / "nowhere/dossier").string() +
                          ": No such file or directory");
}

TEST_CASE("an interruption leaves nothing half done", "[seal]")
{
    const auto signal = GENERATE(SIGINT, SIGTERM, SIGHUP);
    const bool replace = GENERATE(false, true);
    CAPTURE(signal, replace);
    const test::Scratch scratch;
    publish(scratch / "kept", false, "first");
    const auto child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        std::signal(signal, SIG_DFL);
        seal::publish_folder(scratch / (replace ? "kept" : "dossier"), replace, [&](const fs::path& folder) {
            fill_dossier(folder, "half");
            kill(getpid(), signal);  // to the process, as a terminal does
            for (int i = 0;; ++i)    // goes on writing until it is ended
                seal::write_file(folder / ("more-" + std::to_string(i)), "x");
        });
        _exit(0);
    }
    int status = 0;
    REQUIRE(waitpid(child, &status, 0) == child);
    CHECK(WIFSIGNALED(status));
    CHECK(WTERMSIG(status) == signal);
    CHECK(entries_in(scratch.path()) == 1);
    CHECK(seal::read_file(scratch / "kept/record.json") == "first");
}

TEST_CASE("a signal that the caller ignores does not end the work", "[seal]")
{
    const test::Scratch scratch;
    const auto before = std::signal(SIGHUP, SIG_IGN);
    seal::publish_folder(scratch / "dossier", false, [](const fs::path& folder) {
        kill(getpid(), SIGHUP);
        fill_dossier(folder, "whole");
    });
    std::signal(SIGHUP, before);
    CHECK(fs::exists(scratch / "dossier/record.json"));
}
