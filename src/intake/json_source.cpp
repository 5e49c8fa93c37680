#include "intake/json_source.hpp"

#include "intake/json_slips.hpp"
#include "intake/text_encoding.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

namespace luxdossier::intake {
namespace {

constexpr std::size_t deepest_nesting = 64;

std::string escaped_for_pointer(std::string_view key)
{
    std::string escaped;
    for (const auto byte : key) {
        if (byte == '~')
            escaped += "~0";
        else if (byte == '/')
            escaped += "~1";
        else
            escaped += byte;
    }
    return escaped;
}

/// Builds the values from the parser's events. The parser tells no positions, but its events come in the
/// order of the text, so that a cursor of our own walks along: each event stands for the next token.
class Builder {
public:
    using Sax = nlohmann::json_sax<nlohmann::json>;

    Builder(const JsonText& source, diagnostics::Diagnostics& diagnostics)
        : source_(source), diagnostics_(diagnostics), cursor_(skip_bom(source.text()))
    {
    }

    bool null() { return place(scalar(JsonValue::Kind::null)); }
    bool boolean(bool value)
    {
        auto placed = scalar(JsonValue::Kind::boolean);
        placed.boolean = value;
        return place(std::move(placed));
    }
    bool number_integer(std::int64_t value) { return number(static_cast<double>(value)); }
    bool number_unsigned(std::uint64_t value) { return number(static_cast<double>(value)); }
    bool number_float(double value, const std::string&) { return number(value); }
    bool string(std::string& value)
    {
        auto placed = scalar(JsonValue::Kind::text);
        placed.text = value;
        return place(std::move(placed));
    }
    bool binary(nlohmann::json::binary_t&) { return false; }
    bool start_object(std::size_t) { return open(JsonValue::Kind::object); }
    bool start_array(std::size_t) { return open(JsonValue::Kind::array); }
    bool end_object() { return close(); }
    bool end_array() { return close(); }
    bool key(std::string& name)
    {
        const auto token = next_token();
        auto& object = *open_.back();
        if (object.find(name) != nullptr) {
            auto fault = source_.diagnostic(token.offset, token.length,
                                            object.pointer + '/' + escaped_for_pointer(name));
            fault.found = fmt::format("found key {} twice in one object", diagnostics::quoted(name));
            fault.advice = "keep one of the two";
            diagnostics_.add(std::move(fault));
        }
        object.members.push_back({name, token.offset, token.length, {}});
        return true;
    }
    bool parse_error(std::size_t, const std::string&, const nlohmann::json::exception& error)
    {
        constexpr int out_of_range = 406;
        JsonStop stop;
        stop.cursor = cursor_;
        stop.pointer = open_.empty() ? std::string() : open_.back()->pointer;
        stop.number_out_of_range = error.id == out_of_range;
        stop.behind_the_end = open_.empty() && root_.length > 0;
        diagnostics_.add(explain_json_slip(source_, stop));
        return false;
    }

    [[nodiscard]] JsonValue& root() { return root_; }

private:
    struct Token {
        std::size_t offset, length;
    };

    /// The next token of text that the parser has already found to be right.
    Token next_token()
    {
        const auto text = source_.text();
        cursor_ = text.find_first_not_of(" \t\r\n,:", cursor_);
        const auto start = cursor_;
        if (text[start] == '"') {
            ++cursor_;
            while (text[cursor_] != '"')
                cursor_ += text[cursor_] == '\\' ? 2U : 1U;
            ++cursor_;
        } else if (std::string_view("[]{}").find(text[start]) != std::string_view::npos) {
            ++cursor_;
        } else {
            cursor_ = std::min(text.find_first_of(" \t\r\n,:]}", cursor_), text.size());
        }
        return {start, cursor_ - start};
    }
    JsonValue scalar(JsonValue::Kind kind)
    {
        const auto token = next_token();
        JsonValue value;
        value.kind = kind;
        value.offset = token.offset;
        value.length = token.length;
        return value;
    }
    bool number(double value)
    {
        auto placed = scalar(JsonValue::Kind::number);
        placed.number = value;
        const auto& stored = *insert(std::move(placed));
        if (value != 0 && !(std::abs(value) >= smallest_magnitude && std::abs(value) <= largest_magnitude)) {
            auto fault = source_.diagnostic(stored.offset, stored.length, stored.pointer);
            fault.found = fmt::format("found number {}", source_.text().substr(stored.offset, stored.length));
            fault.expected = std::string(magnitude_words);
            diagnostics_.add(std::move(fault));
        }
        return true;
    }
    bool place(JsonValue value)
    {
        (void)insert(std::move(value));
        return true;
    }
    /// Puts a value where it belongs: under the latest key, at the end of an array, or at the root.
    JsonValue* insert(JsonValue value)
    {
        if (open_.empty()) {
            root_ = std::move(value);
            return &root_;
        }
        auto& parent = *open_.back();
        if (parent.kind == JsonValue::Kind::array) {
            value.pointer = fmt::format("{}/{}", parent.pointer, parent.items.size());
            parent.items.push_back(std::move(value));
            return &parent.items.back();
        }
        value.pointer = parent.pointer + '/' + escaped_for_pointer(parent.members.back().key);
        parent.members.back().value = std::move(value);
        return &parent.members.back().value;
    }
    bool open(JsonValue::Kind kind)
    {
        auto value = scalar(kind);
        if (open_.size() >= deepest_nesting) {
            auto fault = source_.diagnostic(value.offset, 1, "");
            fault.found = fmt::format("found values nested more than {} deep", deepest_nesting);
            fault.advice = "no file of this kind nests so deep; check the brackets";
            diagnostics_.add(std::move(fault));
            return false;
        }
        open_.push_back(insert(std::move(value)));
        return true;
    }
    bool close()
    {
        (void)next_token();
        open_.pop_back();
        return true;
    }

    const JsonText& source_;
    diagnostics::Diagnostics& diagnostics_;
    std::size_t cursor_;
    JsonValue root_;
    std::vector<JsonValue*> open_;  ///< stable: a container grows only while it is the innermost one
};

}  // namespace

const JsonValue* JsonValue::find(std::string_view key) const
{
    const auto found = std::ranges::find(members, key, &JsonMember::key);
    return found == members.end() ? nullptr : &found->value;
}

JsonText::JsonText(std::string name, std::string_view text) : name_(std::move(name)), text_(text)
{
    line_starts_.push_back(skip_bom(text));
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text[i] == '\n')
            line_starts_.push_back(i + 1);
    }
}

diagnostics::Diagnostic JsonText::diagnostic(std::size_t offset, std::size_t length,
                                             std::string pointer) const
{
    diagnostics::Diagnostic made;
    offset = std::clamp(offset, line_starts_.front(), text_.size());
    const auto after = std::ranges::upper_bound(line_starts_, offset);
    const auto start = *(after - 1);
    auto line = text_.substr(start, (after == line_starts_.end() ? text_.size() : *after) - start);
    while (!line.empty() && (line.back() == '\n' || line.back() == '\r'))
        line.remove_suffix(1);
    made.location.file = name_;
    made.location.line = static_cast<std::size_t>(after - line_starts_.begin());
    made.location.pointer = std::move(pointer);
    diagnostics::point_at(made, line, offset - start, length);
    return made;
}

std::optional<JsonValue> parse_json(const JsonText& source, diagnostics::Diagnostics& diagnostics)
{
    if (!check_is_text(source.name(), source.text(), diagnostics))
        return std::nullopt;
    Builder builder(source, diagnostics);
    if (!nlohmann::json::sax_parse(source.text().begin(), source.text().end(), &builder))
        return std::nullopt;
    if (builder.root().kind != JsonValue::Kind::object) {
        auto fault = source.diagnostic(builder.root().offset, builder.root().length, "");
        fault.found = "found " + describe(builder.root(), source) + " as the whole file";
        fault.expected = "an object in braces";
        diagnostics.add(std::move(fault));
        return std::nullopt;
    }
    return std::move(builder.root());
}

std::string describe(const JsonValue& value, const JsonText& source)
{
    switch (value.kind) {
    case JsonValue::Kind::null:
        return "null";
    case JsonValue::Kind::boolean:
        return value.boolean ? "true" : "false";
    case JsonValue::Kind::number:
        return fmt::format("number {}", source.text().substr(value.offset, value.length));
    case JsonValue::Kind::text:
        return "text " + diagnostics::quoted(value.text);
    case JsonValue::Kind::array:
        return "an array";
    case JsonValue::Kind::object:
        return "an object";
    }
    return {};
}

}  // namespace luxdossier::intake
