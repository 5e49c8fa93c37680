#pragma once

#include "diagnostics/diagnostic.hpp"

#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

/// No quantity of a bench lies beyond; within, squares and their products stay finite.
inline constexpr double largest_magnitude = 1e30, smallest_magnitude = 1e-30;
inline constexpr std::string_view magnitude_words = "0, or a magnitude from 1e-30 to 1e30";

struct JsonMember;

/// A JSON value that knows where it stands in its file.
struct JsonValue {
    enum class Kind { null, boolean, number, text, array, object };
    Kind kind = Kind::null;
    bool boolean = false;
    double number = 0;
    std::string text;                 ///< of a text
    std::vector<JsonValue> items;     ///< of an array
    std::vector<JsonMember> members;  ///< of an object, in file order
    std::string pointer;              ///< JSON Pointer (RFC 6901)
    std::size_t offset = 0;           ///< first byte in the file
    std::size_t length = 0;           ///< bytes; of arrays and objects the opening bracket only
    [[nodiscard]] const JsonValue* find(std::string_view key) const;
};

struct JsonMember {
    std::string key;
    std::size_t key_offset = 0;
    std::size_t key_length = 0;  ///< quotes included
    JsonValue value;
};

/// The text of a JSON file: turns byte offsets into messages with line, column and caret.
class JsonText {
public:
    JsonText(std::string name, std::string_view text);
    [[nodiscard]] const std::string& name() const { return name_; }
    [[nodiscard]] std::string_view text() const { return text_; }
    /// A diagnostic about `length` bytes from `offset`.
    [[nodiscard]] diagnostics::Diagnostic diagnostic(std::size_t offset, std::size_t length,
                                                     std::string pointer) const;

private:
    std::string name_;
    std::string_view text_;
    std::vector<std::size_t> line_starts_;
};

/// Parses a whole JSON file (RFC 8259, UTF-8 with or without BOM). Faults are appended, duplicate keys among
/// them, with which parsing goes on (the first one counts); empty where the text is no JSON or not an object.
[[nodiscard]] std::optional<JsonValue> parse_json(const JsonText& source,
                                                  diagnostics::Diagnostics& diagnostics);

/// The text in words, as messages call a found value: `text "led"`, `number 5`, `an object`.
[[nodiscard]] std::string describe(const JsonValue& value, const JsonText& source);

}  // namespace luxdossier::intake
