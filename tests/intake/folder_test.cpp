#include "intake/intake.hpp"

#include <filesystem>
#include <fstream>
#include <system_error>

#include <sys/stat.h>
#include <unistd.h>

#include "support/catch.hpp"

using namespace luxdossier;
namespace fs = std::filesystem;
using State = intake::Files::State;

namespace {

/// A folder "in" with a sibling "out", removed at the end.
class TwoFolders {
public:
    TwoFolders() : root_(fs::temp_directory_path() / ("luxdossier-folder-" + std::to_string(::getpid())))
    {
        fs::remove_all(root_);
        fs::create_directories(root_ / "in" / "logs");
        fs::create_directories(root_ / "out");
        std::ofstream(root_ / "in" / "a.csv") << "inside";
        std::ofstream(root_ / "in" / "logs" / "b.csv") << "deeper";
        std::ofstream(root_ / "out" / "c.csv") << "outside";
    }
    TwoFolders(const TwoFolders&) = delete;
    TwoFolders& operator=(const TwoFolders&) = delete;
    ~TwoFolders() { fs::remove_all(root_); }
    [[nodiscard]] fs::path in() const { return root_ / "in"; }
    [[nodiscard]] fs::path out() const { return root_ / "out"; }

private:
    fs::path root_;
};

}  // namespace

TEST_CASE("files inside the folder are read, links inside it followed", "[intake][folder]")
{
    const TwoFolders folders;
    fs::create_symlink("logs/b.csv", folders.in() / "link.csv");
    const auto files = intake::folder_on_disk(folders.in());
    CHECK(files->read("a.csv").content == "inside");
    CHECK(files->read("logs/b.csv").content == "deeper");
    CHECK(files->read("link.csv").content == "deeper");
    CHECK(files->read("no.csv").state == State::missing);
}

TEST_CASE("nothing outside the folder is read, whatever way leads there", "[intake][folder]")
{
    const TwoFolders folders;
    fs::create_symlink(folders.out() / "c.csv", folders.in() / "link.csv");
    fs::create_directory_symlink(folders.out(), folders.in() / "sub");
    fs::create_symlink("../out/not-there.csv", folders.in() / "broken.csv");
    fs::create_symlink("loop.csv", folders.in() / "loop.csv");
    const auto files = intake::folder_on_disk(folders.in());
    for (const auto* path :
         {"link.csv", "sub/c.csv", "../out/c.csv", "logs/../../out/c.csv", "/etc/hostname"}) {
        CAPTURE(path);
        const auto answer = files->read(path);
        CHECK(answer.state == State::outside);
        CHECK(answer.content.empty());
    }
    CHECK(files->read("loop.csv").state == State::missing);
    CHECK(files->read("broken.csv").state == State::missing);
    // A sibling whose name begins like the folder's is outside all the same.
    fs::create_directory(folders.in().parent_path() / "in-other");
    std::ofstream(folders.in().parent_path() / "in-other" / "d.csv") << "x";
    CHECK(files->read("../in-other/d.csv").state == State::outside);
}

TEST_CASE("folders, pipes and devices are no files, and a pipe without a writer does not hang",
          "[intake][folder]")
{
    const TwoFolders folders;
    REQUIRE(::mkfifo((folders.in() / "pipe.csv").c_str(), 0600) == 0);
    const auto files = intake::folder_on_disk(folders.in());
    CHECK(files->read("pipe.csv").state == State::not_regular);
    CHECK(files->read("logs").state == State::not_regular);
    CHECK(files->read(".").state == State::not_regular);
}

TEST_CASE("a file above the limit comes in pieces", "[intake][folder]")
{
    const TwoFolders folders;
    fs::resize_file(folders.in() / "a.csv", intake::kept_whole_bytes + 1);
    const auto files = intake::folder_on_disk(folders.in());
    const auto answer = files->read("a.csv");
    CHECK(answer.state == State::regular);
    CHECK(answer.content.empty());
    CHECK(answer.size == intake::kept_whole_bytes + 1);
    REQUIRE(answer.pieces);
    std::vector<char> buffer(6);
    CHECK(answer.pieces->read(buffer) == 6);
    CHECK(std::string(buffer.begin(), buffer.end()) == "inside");
}

TEST_CASE("a folder that is not there is the environment's fault and names its path", "[intake][folder]")
{
    const TwoFolders folders;
    CHECK_THROWS_AS(intake::folder_on_disk(folders.in() / "nowhere"), std::system_error);
    CHECK_THROWS_AS(intake::folder_on_disk(folders.in() / "a.csv"), std::system_error);
}
