#pragma once

#include "intake/units.hpp"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::intake {

struct JsonValue;

enum class Encoding { utf8, utf16, utf16_little, utf16_big, latin1 };

/// How a CSV file is written, as far as the header states it.
struct CsvFormat {
    std::optional<char> delimiter;
    std::optional<char> decimal;
    std::optional<Encoding> encoding;
    std::string
        skip_to;  ///< the heading line begins with this text; empty: the first line that is no comment
    double clock_offset_s = 0;  ///< what is added to the times of the file
};

enum class ColumnKind {
    number,
    text,
    time,       ///< a number in a stated unit of time
    date_time,  ///< a date and time
};

/// A column that the header names: what it means and what becomes of its cells.
struct ColumnRequest {
    std::string meaning;
    std::string heading;
    ColumnKind kind = ColumnKind::number;
    std::string unit;  ///< canonical; empty for text
    std::string written_unit;
    Conversion conversion;           ///< from the written unit, the product's scale included
    std::vector<std::string> words;  ///< texts that the cells may hold; empty: any
    bool holds_ids = false;          ///< cells must be ids
    bool is_condition = false;       ///< each distinct value is a run of its own
    const JsonValue* at = nullptr;   ///< the heading in the header, for faults
};

}  // namespace luxdossier::intake
