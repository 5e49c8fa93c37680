#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::record {

/// Writes JSON text piece by piece, so that a record of many megabytes never stands in memory as a tree.
///
/// Numbers are the shortest text that reads back exactly; what is not finite is null. Keys come in the order
/// of the calls, one element of a list a line at the outer levels, so that two records can be compared by
/// line.
class JsonWriter {
public:
    JsonWriter& begin_object(std::string_view key = {}) { return begin(key, '{'); }
    JsonWriter& end_object() { return end('}'); }
    JsonWriter& begin_list(std::string_view key = {}) { return begin(key, '['); }
    JsonWriter& end_list() { return end(']'); }

    JsonWriter& text(std::string_view key, std::string_view value);
    JsonWriter& text_or_null(std::string_view key, std::string_view value);  ///< empty: null
    JsonWriter& number(std::string_view key, std::optional<double> value);
    JsonWriter& integer(std::string_view key, std::uint64_t value);
    JsonWriter& boolean(std::string_view key, bool value);
    JsonWriter& null(std::string_view key);

    /// Elements of a list.
    JsonWriter& text(std::string_view value) { return text({}, value); }
    JsonWriter& number(std::optional<double> value) { return number({}, value); }

    /// The text so far, ended by a line feed.
    [[nodiscard]] std::string take();

private:
    JsonWriter& begin(std::string_view key, char bracket);
    JsonWriter& end(char bracket);
    void element(std::string_view key);
    void append_quoted(std::string_view value);
    std::string text_;
    std::vector<bool> has_elements_;
};

}  // namespace luxdossier::record
