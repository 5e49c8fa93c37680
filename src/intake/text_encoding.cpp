#include "intake/text_encoding.hpp"

#include <algorithm>
#include <cstdint>
#include <cstring>

#include <fmt/format.h>

namespace luxdossier::intake {
namespace {

/// Length of the UTF-8 sequence at the front of the text, 0 where it is none.
/// Source: RFC 3629, section 4 (syntax of byte sequences).
std::size_t sequence_length(std::string_view text)
{
    const auto byte = [&text](std::size_t i) { return static_cast<unsigned char>(text[i]); };
    const auto continues = [&](std::size_t i, unsigned low = 0x80U, unsigned high = 0xBFU) {
        return i < text.size() && byte(i) >= low && byte(i) <= high;
    };
    const unsigned lead = byte(0);
    if (lead < 0x80U)
        return lead == 0 ? 0 : 1;
    if (lead >= 0xC2U && lead <= 0xDFU)
        return continues(1) ? 2 : 0;
    if (lead >= 0xE0U && lead <= 0xEFU) {
        const auto low = lead == 0xE0U ? 0xA0U : 0x80U;
        const auto high = lead == 0xEDU ? 0x9FU : 0xBFU;
        return continues(1, low, high) && continues(2) ? 3 : 0;
    }
    if (lead >= 0xF0U && lead <= 0xF4U) {
        const auto low = lead == 0xF0U ? 0x90U : 0x80U;
        const auto high = lead == 0xF4U ? 0x8FU : 0xBFU;
        return continues(1, low, high) && continues(2) && continues(3) ? 4 : 0;
    }
    return 0;
}

}  // namespace

std::size_t skip_bom(std::string_view text)
{
    return text.substr(0, 3) == "\xEF\xBB\xBF" ? 3 : 0;
}

std::size_t valid_utf8_length(std::string_view text)
{
    std::size_t at = 0;
    while (at < text.size()) {
        if (at + sizeof(std::uint64_t) <= text.size()) {
            std::uint64_t eight = 0;
            std::memcpy(&eight, text.data() + at, sizeof eight);
            constexpr std::uint64_t high_bits = 0x8080808080808080U;
            constexpr std::uint64_t ones = 0x0101010101010101U;
            // Neither a high bit nor a zero byte among the eight: plain ASCII.
            if (((eight | (eight - ones)) & high_bits) == 0) {
                at += sizeof eight;
                continue;
            }
        }
        const auto length = sequence_length(text.substr(at));
        if (length == 0)
            return at;
        at += length;
    }
    return at;
}

bool check_is_text(const std::string& file, std::string_view text, diagnostics::Diagnostics& diagnostics)
{
    diagnostics::Diagnostic fault;
    fault.location.file = file;
    if (text.substr(skip_bom(text)).find_first_not_of(" \t\r\n") == std::string_view::npos) {
        fault.found = "found an empty file";
        fault.expected = "a JSON object";
        diagnostics.add(std::move(fault));
        return false;
    }
    const auto valid = valid_utf8_length(text);
    if (valid == text.size())
        return true;
    fault.location.line = 1 + static_cast<std::size_t>(std::ranges::count(text.substr(0, valid), '\n'));
    const auto start =
        text.rfind('\n', valid) == std::string_view::npos || valid == 0 ? 0 : text.rfind('\n', valid) + 1;
    diagnostics::point_at(fault, text.substr(start, valid - start), valid - start, 1);
    fault.source_line.clear();
    const auto byte = static_cast<unsigned char>(text[valid]);
    fault.found = byte == 0 ? "found a NUL byte: not a text file"
                            : fmt::format("found byte 0x{:02X}, which is no UTF-8 text", byte);
    fault.expected = "JSON in UTF-8";
    fault.advice = "save the file as UTF-8 text";
    diagnostics.add(std::move(fault));
    return false;
}

}  // namespace luxdossier::intake
