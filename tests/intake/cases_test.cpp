#include "intake/intake.hpp"
#include "support/catalogue.hpp"

#include <filesystem>
#include <fstream>
#include <sstream>

#include <nlohmann/json.hpp>
#include <sys/stat.h>
#include <unistd.h>

#include "support/catch.hpp"

using namespace luxdossier;
namespace fs = std::filesystem;

namespace {

const fs::path cases = fs::path(LUXDOSSIER_SOURCE_DIRECTORY) / "tests" / "cases";

std::string content_of(const fs::path& file)
{
    std::ifstream in(file, std::ios::binary);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

void write(const fs::path& file, const std::string& content)
{
    std::ofstream(file, std::ios::binary) << content;
}

std::vector<std::string> case_names()
{
    std::vector<std::string> names;
    for (const auto& entry : fs::recursive_directory_iterator(cases)) {
        if (entry.path().filename() == "case.json")
            names.push_back(fs::relative(entry.path().parent_path(), cases).string());
    }
    std::sort(names.begin(), names.end());
    return names;
}

void make_special(const fs::path& file, const std::string& kind)
{
    fs::remove(file);
    if (kind == "folder")
        fs::create_directory(file);
    else if (kind == "pipe")
        REQUIRE(::mkfifo(file.c_str(), 0600) == 0);
    else if (kind == "link to outside")
        fs::create_symlink("/etc/hostname", file);
    else if (kind == "broken link")
        fs::create_symlink("nowhere.csv", file);
    else
        FAIL("no such kind of file: " << kind);
}

std::string bytes_of(const std::string& digits)
{
    std::string bytes;
    std::istringstream in(digits);
    for (std::string pair; in >> pair;)
        bytes += static_cast<char>(std::stoi(pair, nullptr, 16));
    return bytes;
}

/// Makes the folder of a case, as tests/cases/make_case.py does.
void make_case(const nlohmann::json& stated, const fs::path& folder)
{
    fs::remove_all(folder);
    fs::copy(cases / "base", folder, fs::copy_options::recursive);
    for (const auto& edit : stated.value("edit", nlohmann::json::array())) {
        const auto file = folder / edit.at("file").get<std::string>();
        const auto find = edit.at("find").get<std::string>();
        auto text = content_of(file);
        const auto at = text.find(find);
        CAPTURE(find);
        REQUIRE(at != std::string::npos);
        REQUIRE(text.find(find, at + 1) == std::string::npos);
        write(file, text.replace(at, find.size(), edit.at("replace").get<std::string>()));
    }
    const auto none = nlohmann::json::object();
    const auto texts = stated.value("write", none);  // named: items() refers to it
    const auto bytes = stated.value("write_hex", none);
    const auto kinds = stated.value("make", none);
    for (const auto& [file, text] : texts.items())
        write(folder / file, text.get<std::string>());
    for (const auto& [file, digits] : bytes.items())
        write(folder / file, bytes_of(digits.get<std::string>()));
    for (const auto& file : stated.value("remove", nlohmann::json::array()))
        REQUIRE(fs::remove(folder / file.get<std::string>()));
    for (const auto& [file, kind] : kinds.items())
        make_special(folder / file, kind.get<std::string>());
}

/// All that is said of a folder and the limits in it.
std::string messages_of(const fs::path& folder)
{
    diagnostics::Diagnostics found;
    const auto files = intake::folder_on_disk(folder);
    const auto qualification = intake::read_qualification(*files, found, test::catalogue());
    const auto limits = content_of(folder / "limits.json");
    std::vector<model::InputFile> read_files;
    if (qualification)
        (void)intake::read_limits("limits.json", limits, *files, *qualification, test::catalogue(),
                                  read_files, found);
    else
        intake::check_limits("limits.json", limits, *files, test::catalogue(), found);
    std::string text;
    for (const auto& one : found.all())
        text += diagnostics::render(one);
    return text;
}

/// A folder of this process for cases, removed at the end.
class Scratch {
public:
    Scratch() : path_(fs::temp_directory_path() / ("luxdossier-cases-" + std::to_string(::getpid()))) {}
    Scratch(const Scratch&) = delete;
    Scratch& operator=(const Scratch&) = delete;
    ~Scratch() { fs::remove_all(path_); }
    [[nodiscard]] const fs::path& path() const { return path_; }

private:
    fs::path path_;
};

}  // namespace

TEST_CASE("the folder that all cases start from has no fault", "[intake][cases]")
{
    CHECK(messages_of(cases / "base").empty());
}

TEST_CASE("every bad input is told in its whole stated text", "[intake][cases]")
{
    const Scratch scratch;
    const auto names = case_names();
    CHECK(names.size() >= 60);
    for (const auto& name : names) {
        CAPTURE(name);
        make_case(nlohmann::json::parse(content_of(cases / name / "case.json")), scratch.path());
        CHECK(messages_of(scratch.path()) == content_of(cases / name / "expected"));
    }
}
