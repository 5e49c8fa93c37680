#include "workbook/tally.hpp"

#include <fmt/format.h>
#include <zlib.h>

namespace luxdossier::workbook {

std::uint32_t code_of_cell(std::string_view name, std::string_view formula, std::string_view value)
{
    auto code = crc32_z(0, nullptr, 0);
    for (const auto part : {name, formula, value}) {
        constexpr unsigned char end_of_part = 0;
        if (!part.empty())  // without bytes to point to, the library would begin anew
            code = crc32_z(code, reinterpret_cast<const Bytef*>(part.data()), part.size());
        code = crc32_z(code, &end_of_part, 1);
    }
    return static_cast<std::uint32_t>(code);
}

std::string number_in_file(double value)
{
    return fmt::format("{:.16G}", value);
}

}  // namespace luxdossier::workbook
