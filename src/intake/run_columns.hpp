#pragma once

#include "intake/header.hpp"

#include <span>

namespace luxdossier::intake {

/// A meaning that a column of a run may have.
struct ColumnMeaning {
    enum class Unit {
        stated,       ///< a quantity of `dimension`
        own_reading,  ///< illuminance, or counts where the product states its scale
        time,         ///< seconds, or ISO 8601 where no unit is stated
        any,          ///< whatever unit is stated, kept as it is
        optional,     ///< a pure number whose unit need not be stated
        none,         ///< text
    };
    std::string_view name;
    Unit unit = Unit::stated;
    Dimension dimension = ratio;
    bool required = false;
};

/// Meanings that belong to a kind of run. Sample, configuration, source and any condition may be columns
/// besides.
[[nodiscard]] std::span<const ColumnMeaning> meanings_of(model::RunKind kind);

/// The dimension of a condition that is a quantity by definition; nullptr for conditions of the user's own
/// and for those that are words.
[[nodiscard]] const Dimension* condition_dimension(std::string_view name);

/// The words that a condition may take; empty where any text will do.
[[nodiscard]] std::span<const std::string_view> condition_words(std::string_view name);

/// Reads the `columns` of a run or part. Counts need the product's scale: where it is not stated, that is
/// told once and `scale` set to 1, so that what follows is read all the same.
[[nodiscard]] std::vector<ColumnRequest> read_columns(const JsonReading& reading, const JsonValue& columns,
                                                      model::RunKind kind, std::optional<double>& scale);

/// Reads `conditions` into record units.
void read_conditions(const JsonReading& reading, const JsonValue& conditions, model::Conditions& read);

/// One condition of a run: a word, a text of the user's own, or a quantity.
[[nodiscard]] std::optional<model::ConditionValue>
read_condition(const JsonReading& reading, std::string_view name, const JsonValue& value);

}  // namespace luxdossier::intake
