#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace luxdossier::model {

/// A column of numbers in canonical units; NaN where the cell was empty (a missing reading).
struct NumberColumn {
    std::string meaning;  ///< "sensor", "meter", "time", "level", "angle" ...
    std::string heading;  ///< as in the file
    std::string unit;     ///< canonical
    std::string written_unit;
    std::vector<double> values;
};

/// A column of text, each distinct text once.
struct TextColumn {
    std::string meaning;
    std::string heading;
    std::vector<std::string> texts;
    std::vector<std::uint32_t> values;  ///< index into texts, one a row
};

/// Readings of one run's file or joined parts; columns that are used, nothing else.
struct Table {
    std::size_t rows = 0;
    std::vector<NumberColumn> numbers;
    std::vector<TextColumn> texts;
    std::vector<std::uint32_t>
        lines;  ///< line in the file of each row where it is not row + 2; empty: contiguous
    [[nodiscard]] const NumberColumn* number(std::string_view meaning) const;
    [[nodiscard]] const TextColumn* text(std::string_view meaning) const;
};

}  // namespace luxdossier::model
