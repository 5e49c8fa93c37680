#include "cli/version.hpp"

#include <boost/version.hpp>
#include <cairo.h>
#include <cmark.h>
#include <Eigen/Core>
#include <expat.h>
#include <fmt/format.h>
#include <fontconfig/fontconfig.h>
#include <ft2build.h>
#include <gnu/libc-version.h>
#include <harfbuzz/hb.h>
#include <openssl/crypto.h>
#include <pango/pango-utils.h>
#include FT_FREETYPE_H
#define POINTERHOLDER_TRANSITION 4  // qpdf 11: std::shared_ptr throughout
#include <qpdf/QPDF.hh>
#include <sleef.h>
#include <sys/utsname.h>
#include <xlsxwriter.h>
#include <zip.h>
#include <zlib.h>

namespace luxdossier::cli {

std::string_view program_version()
{
    return LUXDOSSIER_VERSION;
}

namespace {

std::string numbers(int major, int minor, int patch)
{
    return fmt::format("{}.{}.{}", major, minor, patch);
}

std::string freetype_version()
{
    FT_Library library = nullptr;
    if (FT_Init_FreeType(&library) != 0)
        return numbers(FREETYPE_MAJOR, FREETYPE_MINOR, FREETYPE_PATCH);
    int major = 0, minor = 0, patch = 0;
    FT_Library_Version(library, &major, &minor, &patch);
    FT_Done_FreeType(library);
    return numbers(major, minor, patch);
}

std::string expat_version()
{
    const auto version = XML_ExpatVersionInfo();
    return numbers(version.major, version.minor, version.micro);
}

}  // namespace

/// Those whose code makes the numbers or the pages; where a library does not tell its version when the
/// program runs, that of its headers.
std::vector<std::pair<std::string, std::string>> library_versions()
{
    const auto fontconfig = FcGetVersion();
    return {
        {"Boost", numbers(BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100)},
        {"Cairo", cairo_version_string()},
        {"CLI11", LUXDOSSIER_CLI11_VERSION},
        {"cmark", cmark_version_string()},
        {"Eigen", numbers(EIGEN_WORLD_VERSION, EIGEN_MAJOR_VERSION, EIGEN_MINOR_VERSION)},
        {"Expat", expat_version()},
        {"fmt", numbers(FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100)},
        {"fontconfig", numbers(fontconfig / 10000, fontconfig / 100 % 100, fontconfig % 100)},
        {"FreeType", freetype_version()},
        {"glibc", gnu_get_libc_version()},
        {"GLib", numbers(static_cast<int>(glib_major_version), static_cast<int>(glib_minor_version),
                         static_cast<int>(glib_micro_version))},
        {"HarfBuzz", hb_version_string()},
        {"libxlsxwriter", lxw_version()},
        {"libzip", zip_libzip_version()},
        {"nlohmann_json", LUXDOSSIER_NLOHMANN_JSON_VERSION},
        {"OpenSSL", OpenSSL_version(OPENSSL_VERSION_STRING)},
        {"Pango", pango_version_string()},
        {"qpdf", QPDF::QPDFVersion()},
        {"SLEEF", numbers(SLEEF_VERSION_MAJOR, SLEEF_VERSION_MINOR, SLEEF_VERSION_PATCHLEVEL)},
        {"UDUNITS", LUXDOSSIER_UDUNITS_VERSION},
        {"zlib", zlibVersion()},
    };
}

std::string version_text()
{
    auto text = fmt::format("luxdossier {}", program_version());
    for (const auto& [name, version] : library_versions())
        text += fmt::format("\n  {} {}", name, version);
    return text;
}

std::string platform()
{
    utsname names{};
    uname(&names);
    return fmt::format("{} {}", static_cast<const char*>(names.sysname),
                       static_cast<const char*>(names.machine));
}

}  // namespace luxdossier::cli
