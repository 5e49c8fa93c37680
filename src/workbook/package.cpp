#include "workbook/package.hpp"

#include "workbook/zip_handles.hpp"

#include <array>
#include <cerrno>
#include <string_view>
#include <system_error>

#include <fmt/format.h>

namespace luxdossier::workbook {
namespace {

/// {0}: version as two digits, a point and four digits (ECMA-376-1, 22.2.2.3).
constexpr std::string_view properties_part =
    R"(<?xml version="1.0" encoding="UTF-8" standalone="yes"?>
<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/extended-properties"><Application>luxdossier</Application><AppVersion>{0}</AppVersion></Properties>)";

/// {0}: face; {1}: three fills; {2}: three lines; {3}: three effects.
constexpr std::string_view theme_part =
    R"(<?xml version="1.0" encoding="UTF-8" standalone="yes"?>
<a:theme xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main" name="luxdossier"><a:themeElements><a:clrScheme name="luxdossier"><a:dk1><a:srgbClr val="1C1C1C"/></a:dk1><a:lt1><a:srgbClr val="FFFFFF"/></a:lt1><a:dk2><a:srgbClr val="595959"/></a:dk2><a:lt2><a:srgbClr val="F3F3F1"/></a:lt2><a:accent1><a:srgbClr val="2676C2"/></a:accent1><a:accent2><a:srgbClr val="00604A"/></a:accent2><a:accent3><a:srgbClr val="4A0E3A"/></a:accent3><a:accent4><a:srgbClr val="B06A00"/></a:accent4><a:accent5><a:srgbClr val="595959"/></a:accent5><a:accent6><a:srgbClr val="BFBEBA"/></a:accent6><a:hlink><a:srgbClr val="2676C2"/></a:hlink><a:folHlink><a:srgbClr val="595959"/></a:folHlink></a:clrScheme><a:fontScheme name="luxdossier"><a:majorFont><a:latin typeface="{0}"/><a:ea typeface=""/><a:cs typeface=""/></a:majorFont><a:minorFont><a:latin typeface="{0}"/><a:ea typeface=""/><a:cs typeface=""/></a:minorFont></a:fontScheme><a:fmtScheme name="luxdossier"><a:fillStyleLst>{1}</a:fillStyleLst><a:lnStyleLst>{2}</a:lnStyleLst><a:effectStyleLst>{3}</a:effectStyleLst><a:bgFillStyleLst>{1}</a:bgFillStyleLst></a:fmtScheme></a:themeElements></a:theme>)";

std::string thrice(std::string_view element)
{
    return fmt::format("{0}{0}{0}", element);
}

std::string theme(const std::string& face)
{
    constexpr std::string_view fill = R"(<a:solidFill><a:schemeClr val="phClr"/></a:solidFill>)";
    return fmt::format(fmt::runtime(theme_part), face, thrice(fill),
                       thrice(fmt::format(R"(<a:ln w="9525">{}</a:ln>)", fill)),
                       thrice("<a:effectStyle><a:effectLst/></a:effectStyle>"));
}

std::string properties(const std::string& version)
{
    std::array<unsigned, 3> parts{};
    std::size_t at = 0;
    for (const char c : version) {
        if (c == '.' && at + 1 < parts.size())
            ++at;
        else if (c >= '0' && c <= '9')
            parts.at(at) = (parts.at(at) * 10 + static_cast<unsigned>(c - '0')) % 100;
    }
    return fmt::format(fmt::runtime(properties_part),
                       fmt::format("{:02}.{:02}{:02}", parts[0], parts[1], parts[2]));
}

/// Replaces members of an archive; it is written beside itself and renamed.
class Rewriting {
public:
    explicit Rewriting(const std::filesystem::path& file) : file_(file)
    {
        int error = 0;
        archive_.reset(zip_open(file.c_str(), ZIP_CHECKCONS, &error));
        if (!archive_) {
            zip_error_t described;
            zip_error_init_with_code(&described, error);
            const std::string text = zip_error_strerror(&described);
            zip_error_fini(&described);
            throw failed(text);
        }
    }

    [[nodiscard]] std::string content(const char* name)
    {
        zip_stat_t facts{};
        if (zip_stat(archive_.get(), name, 0, &facts) != 0)
            throw failed(zip_strerror(archive_.get()));
        const Member opened(zip_fopen(archive_.get(), name, 0));
        std::string text(static_cast<std::size_t>(facts.size), '\0');
        if (!opened ||
            zip_fread(opened.get(), text.data(), text.size()) != static_cast<zip_int64_t>(text.size()))
            throw failed(fmt::format("{} cannot be read", name));
        return text;
    }

    void replace(const char* name, const std::string& text)
    {
        const auto index = zip_name_locate(archive_.get(), name, 0);
        if (index < 0)
            throw failed(fmt::format("{} is missing", name));
        auto* source = zip_source_buffer(archive_.get(), text.data(), text.size(), 0);
        if (source == nullptr)
            throw failed(zip_strerror(archive_.get()));
        const auto at = static_cast<zip_uint64_t>(index);
        if (zip_file_replace(archive_.get(), at, source, 0) != 0) {
            zip_source_free(source);
            throw failed(zip_strerror(archive_.get()));
        }
        // The date of all other members: 1 January 1980, in no zone.
        constexpr zip_uint16_t midnight = 0, first_day = (1U << 5U) | 1U;
        zip_file_set_dostime(archive_.get(), at, midnight, first_day, 0);
    }

    /// The texts that were given must live until here.
    void write()
    {
        if (zip_close(archive_.get()) != 0)
            throw failed(zip_strerror(archive_.get()));
        static_cast<void>(archive_.release());  // closed with success it is gone
    }

private:
    [[nodiscard]] std::system_error failed(const std::string& why) const
    {
        return {EIO, std::generic_category(),
                fmt::format("{} does not read back as it was written: {}", file_.string(), why)};
    }
    std::filesystem::path file_;
    Archive archive_;
};

}  // namespace

void put_own_parts(const std::filesystem::path& file, const std::string& version, const std::string& face)
{
    Rewriting archive(file);
    const auto own_properties = properties(version), own_theme = theme(face);
    constexpr const char* workbook_name = "xl/workbook.xml";
    auto workbook = archive.content(workbook_name);
    constexpr std::string_view other_maker = "<fileVersion ";
    if (const auto from = workbook.find(other_maker); from != std::string::npos)
        workbook.replace(from, workbook.find("/>", from) + 2 - from,
                         R"(<fileVersion appName="luxdossier"/>)");
    archive.replace("docProps/app.xml", own_properties);
    archive.replace("xl/theme/theme1.xml", own_theme);
    archive.replace(workbook_name, workbook);
    archive.write();
}

}  // namespace luxdossier::workbook
