#include "workbook/package.hpp"

#include "workbook/zip_handles.hpp"

#include <array>
#include <cerrno>
#include <charconv>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <stdexcept>
#include <string_view>
#include <system_error>

#include <expat.h>
#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

/// Why a file is not what was written; the file is named where it is caught.
class Broken : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};

/// Name, value, name, value ... and a null pointer, as the parser has them.
using Attributes = const XML_Char**;

std::optional<std::string_view> find(Attributes attributes, std::string_view name)
{
    for (auto at = attributes; *at != nullptr; at += 2)
        if (at[0] == name)
            return at[1];
    return std::nullopt;
}

/// What one part holds of that which is compared.
struct Found {
    Tally tally;
    std::vector<std::string> sheets, targets, overrides;
    std::size_t names = 0, series = 0, anchors = 0;
};

/// Counts a part while it is parsed.
class Reader {
public:
    explicit Reader(Found& found) : found_(found) {}

    void begin(std::string_view name, Attributes attributes)
    {
        if (!open_.empty())
            ++open_.back().children;
        open_.push_back({});
        if (const auto count = find(attributes, "count"))
            open_.back().stated = number(*count);
        text_ = nullptr;
        if (name == "c") {
            cell_name_ = value(attributes, "r");
            formula_.clear();
            value_.clear();
        } else if (name == "f") {
            text_ = &formula_;
        } else if (name == "v" || name == "t") {
            text_ = &value_;
        } else {
            count(name, attributes);
        }
    }
    void end(std::string_view name)
    {
        const auto& closed = open_.back();
        if (closed.stated && *closed.stated != closed.children)
            throw Broken(fmt::format("<{}> holds {} of {}", name, closed.children, *closed.stated));
        open_.pop_back();
        text_ = nullptr;
        if (name == "c")
            found_.tally.add_cell(code_of_cell(cell_name_, formula_, value_));
    }
    void characters(std::string_view text)
    {
        if (text_ != nullptr)
            *text_ += text;
    }

private:
    struct Element {
        std::size_t children = 0;
        std::optional<std::size_t> stated;
    };
    static std::string_view value(Attributes attributes, std::string_view name)
    {
        return find(attributes, name).value_or(std::string_view{});
    }
    static std::size_t number(std::string_view text)
    {
        std::size_t result = 0;
        std::from_chars(text.data(), text.data() + text.size(), result);
        return result;
    }
    void count(std::string_view name, Attributes attributes)
    {
        if (name == "hyperlink")
            found_.tally.add_link(code_of_cell(value(attributes, "ref"), value(attributes, "location"), {}));
        else if (name == "sheet")
            found_.sheets.emplace_back(value(attributes, "name"));
        else if (name == "definedName")
            ++found_.names;
        else if (name == "c:ser")
            ++found_.series;
        else if (name == "xdr:twoCellAnchor")
            ++found_.anchors;
        else if (name == "Relationship")
            found_.targets.emplace_back(value(attributes, "Target"));
        else if (name == "Override")
            found_.overrides.emplace_back(value(attributes, "PartName"));
    }

    Found& found_;
    std::vector<Element> open_;
    std::string cell_name_, formula_, value_;
    std::string* text_ = nullptr;
};

/// The parser is C: an exception waits until it has returned.
struct Parsing {
    explicit Parsing(Found& found) : reader(found) {}
    Reader reader;
    XML_Parser parser = nullptr;
    std::exception_ptr failure;

    template <typename Step>
    void guarded(const Step& step)
    {
        if (failure)
            return;
        try {
            step();
        } catch (...) {
            failure = std::current_exception();
            XML_StopParser(parser, XML_FALSE);
        }
    }
};

void begin_element(void* data, const XML_Char* name, const XML_Char** attributes)
{
    auto& parsing = *static_cast<Parsing*>(data);
    parsing.guarded([&] { parsing.reader.begin(name, attributes); });
}
void end_element(void* data, const XML_Char* name)
{
    auto& parsing = *static_cast<Parsing*>(data);
    parsing.guarded([&] { parsing.reader.end(name); });
}
void character_data(void* data, const XML_Char* text, int length)
{
    auto& parsing = *static_cast<Parsing*>(data);
    parsing.guarded([&] { parsing.reader.characters({text, static_cast<std::size_t>(length)}); });
}

class PackageReader {
public:
    explicit PackageReader(const std::filesystem::path& file)
    {
        int error = 0;
        archive_.reset(zip_open(file.c_str(), ZIP_RDONLY | ZIP_CHECKCONS, &error));
        if (!archive_)
            throw Broken("it is no whole archive");
    }
    [[nodiscard]] std::vector<std::string> members() const
    {
        std::vector<std::string> names;
        for (zip_int64_t i = 0; i < zip_get_num_entries(archive_.get(), 0); ++i)
            names.emplace_back(zip_get_name(archive_.get(), static_cast<zip_uint64_t>(i), 0));
        return names;
    }
    /// Reads a member to its end, where the archive's own check of its bytes is made.
    [[nodiscard]] Found read(const std::string& name)
    {
        try {
            return parse(name);
        } catch (const Broken& broken) {
            throw Broken(fmt::format("{}: {}", name, broken.what()));
        }
    }

private:
    [[nodiscard]] Found parse(const std::string& name);

    Archive archive_;
};

Found PackageReader::parse(const std::string& name)
{
    struct FreeParser {
        void operator()(XML_Parser parser) const { XML_ParserFree(parser); }
    };
    const Member member(zip_fopen(archive_.get(), name.c_str(), 0));
    if (!member)
        throw Broken(zip_strerror(archive_.get()));
    Found found;
    Parsing parsing(found);
    const std::unique_ptr<XML_ParserStruct, FreeParser> parser(XML_ParserCreate("UTF-8"));
    if (!parser)
        throw std::bad_alloc();
    parsing.parser = parser.get();
    XML_SetUserData(parser.get(), &parsing);
    XML_SetElementHandler(parser.get(), begin_element, end_element);
    XML_SetCharacterDataHandler(parser.get(), character_data);
    constexpr int piece = 1 << 16;
    for (bool at_end = false; !at_end;) {
        auto* buffer = XML_GetBuffer(parser.get(), piece);
        if (buffer == nullptr)
            throw std::bad_alloc();
        const auto taken = zip_fread(member.get(), buffer, piece);
        if (taken < 0)
            throw Broken(zip_file_strerror(member.get()));
        at_end = taken == 0;
        if (XML_ParseBuffer(parser.get(), static_cast<int>(taken), at_end ? XML_TRUE : XML_FALSE) ==
            XML_STATUS_OK)
            continue;
        if (parsing.failure)
            std::rethrow_exception(parsing.failure);
        throw Broken(fmt::format("line {}: {}", XML_GetCurrentLineNumber(parser.get()),
                                 XML_ErrorString(XML_GetErrorCode(parser.get()))));
    }
    return found;
}

/// Names of the members that a list of relationships points to.
std::string resolved(const std::string& relations, const std::string& target)
{
    if (target.starts_with('/'))
        return target.substr(1);
    const auto folder = std::filesystem::path(relations).parent_path().parent_path();
    return (folder / target).lexically_normal().generic_string();
}

void check_number(std::string_view what, std::size_t found, std::size_t expected)
{
    if (found != expected)
        throw Broken(fmt::format("found {} {}, {} were written", found, what, expected));
}

void check_sheet(const std::string& part, const Tally& found, const Expected::Sheet& expected)
{
    if (found == expected.tally)
        return;
    throw Broken(fmt::format("{}: the sheet \"{}\" holds {} cells and {} links, {} and {} were written{}",
                             part, expected.name, found.cells, found.links, expected.tally.cells,
                             expected.tally.links,
                             found.sum == expected.tally.sum ? "" : ", with other content"));
}

void check(const std::filesystem::path& file, const Expected& expected)
{
    PackageReader package(file);
    const auto members = package.members();
    std::map<std::string, const Expected::Sheet*> sheets;
    for (std::size_t i = 0; i < expected.sheets.size(); ++i)
        sheets.emplace(fmt::format("xl/worksheets/sheet{}.xml", i + 1), &expected.sheets[i]);
    std::set<std::string> parts, targets, overrides;
    std::size_t sheets_found = 0, names = 0, charts = 0, series = 0, anchors = 0;
    for (const auto& member : members) {
        const auto found = package.read(member);
        if (const auto sheet = sheets.find(member); sheet != sheets.end()) {
            check_sheet(member, found.tally, *sheet->second);
            ++sheets_found;
        }
        if (member == "xl/workbook.xml") {
            names = found.names;
            check_number("sheets", found.sheets.size(), expected.sheets.size());
            for (std::size_t i = 0; i < found.sheets.size(); ++i)
                if (found.sheets[i] != expected.sheets[i].name)
                    throw Broken(fmt::format("{}: found a sheet \"{}\", \"{}\" was written", member,
                                             found.sheets[i], expected.sheets[i].name));
        }
        charts += member.starts_with("xl/charts/chart") ? 1U : 0U;
        series += found.series;
        anchors += found.anchors;
        for (const auto& target : found.targets)
            targets.insert(resolved(member, target));
        for (const auto& part : found.overrides)
            overrides.insert(part.substr(1));
        if (member != "[Content_Types].xml" && !member.ends_with(".rels"))
            parts.insert(member);
    }
    check_number("sheets", sheets_found, expected.sheets.size());
    check_number("names of cells", names, expected.names);
    check_number("charts", charts, expected.charts);
    check_number("places of charts", anchors, expected.charts);
    check_number("series of charts", series, expected.series);
    if (parts != targets)
        throw Broken("the relationships of its parts are not whole");
    if (parts != overrides)
        throw Broken("the list of its parts is not whole");
}

}  // namespace

void check_package(const std::filesystem::path& file, const Expected& expected)
{
    try {
        check(file, expected);
    } catch (const Broken& broken) {
        throw std::system_error(
            EIO, std::generic_category(),
            fmt::format("{} does not read back as it was written: {}", file.string(), broken.what()));
    }
}

}  // namespace luxdossier::workbook
