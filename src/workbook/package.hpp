#pragma once

#include "workbook/tally.hpp"

#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

namespace luxdossier::workbook {

/// What must be found in a workbook file that is read back.
struct Expected {
    struct Sheet {
        std::string name;
        Tally tally;
    };
    std::vector<Sheet> sheets;  ///< in their order
    std::size_t charts = 0, series = 0;
    std::size_t names = 0;  ///< of cells and areas
};

/// Puts our own parts in the place of those that the library copies from another program: who made the file,
/// and the theme with its face. Errors: std::system_error.
void put_own_parts(const std::filesystem::path& file, const std::string& version, const std::string& face);

/// Reads a workbook file back, because the library that writes it does not look whether its temporary files
/// took what it wrote: every member whole (CRC-32), every part well-formed, every cell, link, name, chart and
/// relationship there. Errors: std::system_error naming what is not as it was written.
void check_package(const std::filesystem::path& file, const Expected& expected);

}  // namespace luxdossier::workbook
