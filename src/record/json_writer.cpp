#include "record/json_writer.hpp"

#include <cmath>
#include <iterator>
#include <utility>

#include <fmt/format.h>

namespace luxdossier::record {
namespace {

constexpr std::size_t levels_with_a_line_each = 2;  // members of the record, elements of its lists

}  // namespace

void JsonWriter::append_quoted(std::string_view value)
{
    text_ += '"';
    for (const char c : value) {
        switch (c) {
        case '"':
            text_ += "\\\"";
            break;
        case '\\':
            text_ += "\\\\";
            break;
        case '\n':
            text_ += "\\n";
            break;
        case '\t':
            text_ += "\\t";
            break;
        case '\r':
            text_ += "\\r";
            break;
        default:
            if (static_cast<unsigned char>(c) < 0x20)
                fmt::format_to(std::back_inserter(text_), "\\u{:04x}", static_cast<unsigned>(c));
            else
                text_ += c;
        }
    }
    text_ += '"';
}

void JsonWriter::element(std::string_view key)
{
    if (has_elements_.empty())
        return;
    if (has_elements_.back())
        text_ += ',';
    if (has_elements_.size() <= levels_with_a_line_each)
        text_ += '\n';
    has_elements_.back() = true;
    if (key.empty())
        return;
    append_quoted(key);
    text_ += ':';
}

JsonWriter& JsonWriter::begin(std::string_view key, char bracket)
{
    element(key);
    text_ += bracket;
    has_elements_.push_back(false);
    return *this;
}

JsonWriter& JsonWriter::end(char bracket)
{
    const bool had_elements = has_elements_.back();
    if (had_elements && has_elements_.size() <= levels_with_a_line_each)
        text_ += '\n';
    has_elements_.pop_back();
    text_ += bracket;
    return *this;
}

JsonWriter& JsonWriter::text(std::string_view key, std::string_view value)
{
    element(key);
    append_quoted(value);
    return *this;
}

JsonWriter& JsonWriter::text_or_null(std::string_view key, std::string_view value)
{
    return value.empty() ? null(key) : text(key, value);
}

JsonWriter& JsonWriter::number(std::string_view key, std::optional<double> value)
{
    element(key);
    if (value && std::isfinite(*value))
        fmt::format_to(std::back_inserter(text_), "{}", *value);  // shortest text that reads back, no locale
    else
        text_ += "null";
    return *this;
}

JsonWriter& JsonWriter::integer(std::string_view key, std::uint64_t value)
{
    element(key);
    fmt::format_to(std::back_inserter(text_), "{}", value);
    return *this;
}

JsonWriter& JsonWriter::boolean(std::string_view key, bool value)
{
    element(key);
    text_ += value ? "true" : "false";
    return *this;
}

JsonWriter& JsonWriter::null(std::string_view key)
{
    element(key);
    text_ += "null";
    return *this;
}

std::string JsonWriter::take()
{
    text_ += '\n';
    return std::exchange(text_, {});
}

}  // namespace luxdossier::record
