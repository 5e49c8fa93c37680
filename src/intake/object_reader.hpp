#pragma once

#include "intake/json_source.hpp"
#include "intake/units.hpp"
#include "model/quantity.hpp"

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

/// What all readers of one JSON file share: its text and where faults go.
struct JsonReading {
    const JsonText& source;
    diagnostics::Diagnostics& diagnostics;

    /// Adds an error about a value. Faults of one place that have been told are not told again by the
    /// readers' callers.
    void fault(const JsonValue& at, std::string found, std::string expected = {},
               std::string advice = {}) const;
    /// Adds an error about the key of a member of `object`.
    void key_fault(const JsonValue& object, const JsonMember& member, std::string found,
                   std::string expected = {}, std::string advice = {}) const;
    /// "text \"led\"", "number 5", "an object".
    [[nodiscard]] std::string describe(const JsonValue& value) const
    {
        return intake::describe(value, source);
    }
};

/// The permitted values of a number.
enum class Range {
    any,
    positive,      ///< > 0
    not_negative,  ///< >= 0
    open_unit,     ///< 0 < x < 1
};

/// Reads one object strictly. Each key that is asked for is thereby known; `finish` then tells of all others,
/// with the nearest known one. A fault is added once and the value left empty: callers go on and find the
/// remaining faults.
class ObjectReader {
public:
    /// `label` is what messages call the object: "sample", "certificate". A value that is no object is a
    /// fault; nullptr stands for an object that is not there: every question is answered empty and nothing is
    /// told.
    ObjectReader(const JsonReading& reading, const JsonValue* value, std::string label);

    [[nodiscard]] bool is_object() const { return object_ != nullptr; }
    [[nodiscard]] const JsonReading& reading() const { return reading_; }
    [[nodiscard]] const std::string& label() const { return label_; }
    /// The object itself, for messages; only where is_object().
    [[nodiscard]] const JsonValue& value() const { return *object_; }

    /// The member, which becomes known; nullptr where it is not there.
    const JsonValue* find(std::string_view key);
    /// The same, and a fault where it is not there; `what` says what it should be: "text", "a date".
    const JsonValue* require(std::string_view key, std::string_view what);

    std::string text(std::string_view key);
    std::string required_text(std::string_view key);
    std::optional<std::string> optional_text(std::string_view key);
    /// Text of the form [A-Za-z0-9][A-Za-z0-9._-]*; empty where it is not there or is none.
    std::string id(std::string_view key);
    std::string required_id(std::string_view key);
    std::optional<double> number(std::string_view key, Range range = Range::any);
    std::optional<double> required_number(std::string_view key, Range range = Range::any);
    std::optional<bool> boolean(std::string_view key);
    std::optional<model::Date> date(std::string_view key);
    std::optional<model::Date> required_date(std::string_view key);
    /// Index into `choices` of the text.
    std::optional<std::size_t> choice(std::string_view key, std::span<const std::string_view> choices);
    std::optional<std::size_t> required_choice(std::string_view key,
                                               std::span<const std::string_view> choices);
    std::vector<std::string> texts(std::string_view key);
    /// Items of an array; an empty span where it is not there or is none.
    std::span<const JsonValue> items(std::string_view key);
    /// A reader for the object under the key.
    ObjectReader object(std::string_view key, std::string label);

    /// A quantity {"value", "unit"} that may state its uncertainty.
    std::optional<model::Quantity> quantity(std::string_view key, const Dimension& dimension,
                                            Range range = Range::any);
    /// A quantity that takes no uncertainty, in the canonical unit.
    std::optional<double> plain(std::string_view key, const Dimension& dimension, Range range = Range::any);
    std::optional<double> required_plain(std::string_view key, const Dimension& dimension,
                                         Range range = Range::any);

    /// Tells of every key that was not asked for, with the nearest known one ("comment" is always allowed),
    /// and of every required key that is not there, unless a misspelt one stands for it.
    void finish();
    /// Tells of missing keys only: for objects whose other keys another reader knows.
    void finish_required();

private:
    std::string id_of(const JsonValue* value);
    std::optional<double> number_of(const JsonValue* value, std::string_view key, Range range);

    JsonReading reading_;
    const JsonValue* object_ = nullptr;
    struct Missing {
        std::string key, what;
    };
    void report_missing(std::span<const std::string_view> misspelt);

    std::string label_;
    std::vector<std::string> known_;
    std::vector<Missing> missing_;
};

/// True where the text is an id: [A-Za-z0-9][A-Za-z0-9._-]*.
[[nodiscard]] bool is_id(std::string_view text);

/// Adds a fault where the number is outside its range.
bool check_range(const JsonReading& reading, const JsonValue& at, double value, std::string_view name,
                 Range range);

/// Text of a value, or a fault.
[[nodiscard]] std::optional<std::string> text_of(const JsonReading& reading, const JsonValue& value,
                                                 std::string_view name);

/// A list of words for messages: "a", "b" or "c" (each in quotes).
[[nodiscard]] std::string listed(std::span<const std::string_view> words);

}  // namespace luxdossier::intake
