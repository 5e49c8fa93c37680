#include "intake/units.hpp"

#include "diagnostics/diagnostic.hpp"

#include <array>
#include <cerrno>
#include <charconv>
#include <cmath>
#include <cstdlib>
#include <memory>
#include <span>
#include <stdexcept>
#include <system_error>
#include <vector>

#include <fmt/format.h>
#include <udunits2.h>

namespace luxdossier::intake {
namespace {

struct FreeUnit {
    void operator()(ut_unit* unit) const { ut_free(unit); }
};
using Unit = std::unique_ptr<ut_unit, FreeUnit>;
struct FreeConverter {
    void operator()(cv_converter* converter) const { cv_free(converter); }
};
using Converter = std::unique_ptr<cv_converter, FreeConverter>;

/// udunits2 2.2 defines the foot-candle as 0.1076391 lx, a hundredth of what it is.
/// Source: NIST SP 811 (2008), B.8: 1 footcandle = 10.763 91 lx; 1 lm/ft2 with 1 ft = 0.3048 m.
void repair_foot_candle(ut_system* system)
{
    const Unit right(ut_parse(system, "lm/ft2", UT_ASCII));
    for (const auto* name : {"footcandle", "footcandles", "foot_candle", "foot_candles"}) {
        ut_unmap_name_to_unit(system, name, UT_ASCII);
        ut_map_name_to_unit(name, UT_ASCII, right.get());
    }
}

ut_system* unit_system()
{
    static ut_system* const system = [] {
        ut_set_error_message_handler(ut_ignore);
        errno = 0;
        auto* read = ut_read_xml(nullptr);
        if (read == nullptr) {
            const auto error = errno;
            ut_status status = UT_SUCCESS;
            const auto* path = ut_get_path_xml(nullptr, &status);
            throw std::system_error(
                error == 0 ? EIO : error, std::generic_category(),
                fmt::format("cannot read the unit database {}", path == nullptr ? "of udunits2" : path));
        }
        repair_foot_candle(read);
        return read;
    }();
    return system;
}

Unit parse(std::string_view text)
{
    // "s since 1970-01-01" and "K @ 273.15" are units to udunits2; a header states plain ones. "" would be
    // the unit 1.
    if (text.empty() || text.front() == ' ' || text.back() == ' ' || text.find('@') != text.npos ||
        text.find("since") != text.npos || text.find("from") != text.npos)
        return nullptr;
    const std::string terminated(text);
    return Unit(ut_parse(unit_system(), terminated.c_str(), UT_UTF8));
}

/// Base units with their exponents, radians included: "m-2.cd.rad2" for lx, "1" for %, "rad" for degree.
std::string base_units(const ut_unit* unit)
{
    std::array<char, 512> buffer{};
    const auto length = ut_format(unit, buffer.data(), buffer.size() - 1, UT_ASCII | UT_DEFINITION);
    if (length < 0)
        return {};
    std::string text(buffer.data(), std::min(static_cast<std::size_t>(length), buffer.size() - 1));
    if (const auto at = text.find(" @"); at != text.npos)
        text.resize(at);
    if (const auto space = text.find(' '); space != text.npos)
        text.erase(0, space + 1);  // the scale in front
    return text;
}

Conversion conversion_of(const cv_converter* converter)
{
    const auto offset = cv_convert_double(converter, 0.0);
    if (offset == 0.0)
        return {cv_convert_double(converter, 1.0), 0.0};
    constexpr double wide = 1099511627776.0;  // 2^40: the offset does not cost digits of the scale
    return {without_noise((cv_convert_double(converter, wide) - offset) / wide), without_noise(offset)};
}

struct Examples {
    std::string_view unit;  ///< canonical
    std::vector<std::string_view> written;
};

std::span<const std::string_view> examples_of(std::string_view unit)
{
    static const std::vector<Examples> all = {
        {"lx", {"lx", "klx", "mlx", "footcandle"}},
        {"m", {"m", "cm", "mm", "nm"}},
        {"s", {"s", "ms", "min", "h"}},
        {"rad", {"degree", "rad"}},
        {"degree", {"degree", "rad"}},
        {"K", {"degC", "K"}},
        {"1", {"%", "1"}},
        {"1/s", {"Hz", "kHz"}},
        {"1/year", {"%/year", "1/year"}},
        {"1/K", {"%/K", "1/K"}},
        {"W/m2", {"W/m2", "mW/m2", "mW/cm2"}},
    };
    for (const auto& one : all) {
        if (one.unit == unit)
            return one.written;
    }
    return {};
}

}  // namespace

UnitAnswer convert_unit(std::string_view written, std::string_view wanted)
{
    const auto from = parse(written);
    if (!from)
        return {UnitState::unknown, {}};
    const auto to = parse(wanted);
    if (!to || base_units(from.get()) != base_units(to.get()))
        return {UnitState::other_dimension, {}};
    if (written == wanted)
        return {UnitState::known, {}};
    const Converter converter(ut_get_converter(from.get(), to.get()));
    if (!converter)
        return {UnitState::other_dimension, {}};
    return {UnitState::known, conversion_of(converter.get())};
}

std::string canonical_unit(std::string_view written)
{
    for (const auto* canonical :
         {"lx", "m", "s", "rad", "K", "1", "1/s", "W/m2", "V", "A", "W", "Pa", "kg", "cd/m2"}) {
        const auto answer = convert_unit(written, canonical);
        if (answer.state == UnitState::known)
            return canonical;
        if (answer.state == UnitState::unknown)
            return {};
    }
    return std::string(written);
}

std::string unit_advice(std::string_view written, const Dimension& dimension)
{
    struct Slip {
        std::string_view written, right;
    };
    static constexpr std::array<Slip, 14> slips{{{"deg", "degree"},
                                                 {"degrees C", "degC"},
                                                 {"C", "degC"},
                                                 {"\u2103", "degC"},
                                                 {"F", "degF"},
                                                 {"fc", "footcandle"},
                                                 {"%/a", "%/year"},
                                                 {"%/yr", "%/year"},
                                                 {"%/y", "%/year"},
                                                 {"%/C", "%/K"},
                                                 {"a", "year"},
                                                 {"percent", "%"},
                                                 {"pct", "%"},
                                                 {"counts", "count"}}};
    for (const auto& slip : slips) {
        if (slip.written == written && convert_unit(slip.right, dimension.unit).state == UnitState::known)
            return fmt::format("write {}", slip.right);
    }
    const auto near = diagnostics::nearest(written, examples_of(dimension.unit));
    return near.empty() ? std::string() : fmt::format("did you mean {}?", near);
}

std::string unit_examples(const Dimension& dimension)
{
    const auto written = examples_of(dimension.unit);
    std::string text =
        fmt::format("a unit of {}", dimension.quantity.substr(dimension.quantity.find(' ') + 1));
    for (std::size_t i = 0; i < written.size(); ++i)
        text += fmt::format("{}{}",
                            i == 0                    ? " such as "
                            : i + 1 == written.size() ? " or "
                                                      : ", ",
                            written[i]);
    return text;
}

double without_noise(double value)
{
    if (!std::isfinite(value))
        return value;
    const auto text = fmt::format("{:.15g}", value);
    double rounded = value;
    std::from_chars(text.data(), text.data() + text.size(), rounded);
    return rounded;
}

}  // namespace luxdossier::intake
