#include "cli/version.hpp"

#include <boost/version.hpp>
#include <cairo.h>
#include <cmark.h>
#include <fmt/format.h>
#include <openssl/crypto.h>
#include <pango/pango-utils.h>
#define POINTERHOLDER_TRANSITION 4  // qpdf 11: std::shared_ptr throughout
#include <qpdf/QPDF.hh>
#include <sys/utsname.h>
#include <xlsxwriter.h>

namespace luxdossier::cli {

std::string_view program_version()
{
    return LUXDOSSIER_VERSION;
}

std::vector<std::pair<std::string, std::string>> library_versions()
{
    return {
        {"Boost",
         fmt::format("{}.{}.{}", BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100)},
        {"Cairo", cairo_version_string()},
        {"CLI11", LUXDOSSIER_CLI11_VERSION},
        {"cmark", cmark_version_string()},
        {"fmt", fmt::format("{}.{}.{}", FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100)},
        {"libxlsxwriter", lxw_version()},
        {"nlohmann_json", LUXDOSSIER_NLOHMANN_JSON_VERSION},
        {"OpenSSL", OpenSSL_version(OPENSSL_VERSION_STRING)},
        {"Pango", pango_version_string()},
        {"qpdf", QPDF::QPDFVersion()},
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
