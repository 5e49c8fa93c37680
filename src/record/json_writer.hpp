#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace luxdossier::record {

/// Writes JSON text piece by piece, so that a record of many megabytes never stands in memory as a tree.
///
/// Numbers are the shortest text that reads back exactly; what is not finite is null. Keys come in the order
/// of the calls, one element of a list a line at the outer levels, so that two records can be compared by
/// line.
class JsonWriter {
public:
    using Sink = std::function<void(std::string_view)>;
    /// With a sink the text leaves in pieces of about a megabyte; without, take() gives it whole.
    explicit JsonWriter(Sink sink = {}) : sink_(std::move(sink)) {}

    /// Members of an object that many objects share, each quoted once: `"a":1,"b":2`.
    class Members {
    public:
        explicit Members(const std::function<void(JsonWriter&)>& write);

    private:
        friend class JsonWriter;
        std::string text_;
    };
    JsonWriter& members(const Members& members);

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

    /// The text that no sink has taken, ended by a line feed.
    [[nodiscard]] std::string take();
    /// Gives the sink the rest, ended by a line feed.
    void finish() { sink_(take()); }

private:
    JsonWriter& begin(std::string_view key, char bracket);
    JsonWriter& end(char bracket);
    void element(std::string_view key);
    void append_quoted(std::string_view value);
    Sink sink_;
    std::string text_;
    std::vector<bool> has_elements_;
};

}  // namespace luxdossier::record
