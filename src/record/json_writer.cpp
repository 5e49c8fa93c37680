#include "record/json_writer.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <utility>

#include <fmt/compile.h>
#include <fmt/format.h>

namespace luxdossier::record {
namespace {

constexpr std::size_t levels_with_a_line_each = 2;  // members of the record, elements of its lists
constexpr std::size_t piece = std::size_t{1} << 20U;

bool stands_as_it_is(char c)
{
    return c != '"' && c != '\\' && static_cast<unsigned char>(c) >= 0x20;
}

}  // namespace

JsonWriter::Members::Members(const std::function<void(JsonWriter&)>& write)
{
    JsonWriter json;
    json.has_elements_.assign(levels_with_a_line_each + 1, false);  // deep enough to stay on one line
    write(json);
    text_ = std::move(json.text_);
}

JsonWriter& JsonWriter::members(const Members& members)
{
    element({});
    text_ += members.text_;
    return *this;
}

void JsonWriter::append_quoted(std::string_view value)
{
    text_ += '"';
    while (!value.empty()) {
        const auto stop = std::ranges::find_if_not(value, stands_as_it_is) - value.begin();
        text_ += value.substr(0, static_cast<std::size_t>(stop));
        value.remove_prefix(static_cast<std::size_t>(stop));
        if (value.empty())
            break;
        const char c = value.front();
        value.remove_prefix(1);
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
            fmt::format_to(std::back_inserter(text_), "\\u{:04x}", static_cast<unsigned>(c));
        }
    }
    text_ += '"';
}

void JsonWriter::element(std::string_view key)
{
    if (has_elements_.empty())
        return;
    if (sink_ && text_.size() >= piece) {
        sink_(text_);
        text_.clear();
    }
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
    if (value && std::isfinite(*value)) {
        std::array<char, 32> digits{};
        const auto* end = fmt::format_to(digits.data(), FMT_COMPILE("{}"), *value);
        text_.append(digits.data(), static_cast<std::size_t>(
                                        end - digits.data()));  // shortest text that reads back, no locale
    } else {
        text_ += "null";
    }
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
