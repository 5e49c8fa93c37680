#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace luxdossier::workbook {

/// What a sheet holds, counted while it is written and again when it is read back. The sum of CRC-32 over
/// cells and links tells a cell that lost a digit as well as one that is missing, in whatever order they
/// come.
struct Tally {
    std::uint64_t cells = 0, links = 0, sum = 0;

    void add_cell(std::uint32_t code) { ++cells, sum += code; }
    void add_link(std::uint32_t code) { ++links, sum += code; }
    bool operator==(const Tally&) const = default;
};

/// CRC-32 of a cell: its name, its formula, its value as text.
[[nodiscard]] std::uint32_t code_of_cell(std::string_view name, std::string_view formula,
                                         std::string_view value);
/// A number as the writer of the file puts it: sixteen significant digits.
[[nodiscard]] std::string number_in_file(double value);

}  // namespace luxdossier::workbook
