#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/symbols.hpp"

#include <fmt/format.h>

namespace luxdossier::report {

Blocks evidence(const model::Dossier& dossier)
{
    Table table;
    table.caption = plain("Files that were read");
    table.columns = {column("File"), column("Role, or run whose readings it holds"),
                     column("Bytes", Alignment::right), column("SHA-256")};
    constexpr std::string_view readings = "readings of ";
    for (const auto& file : dossier.qualification.files) {
        Row row;
        const bool is_log = file.role.starts_with(readings);
        row.cells = {cell(file.path), cell(is_log ? file.role.substr(readings.size()) : file.role),
                     cell(number_text(static_cast<double>(file.size), 0)),
                     cell(styled(file.sha256, Style::small))};
        table.rows.push_back(std::move(row));
    }
    if (table.rows.empty())
        return {};
    return {std::move(table)};
}

Blocks tools(const model::Dossier& dossier)
{
    std::vector<std::string> libraries;
    for (const auto& [name, version] : dossier.libraries)
        libraries.push_back(fmt::format("{} {}", name, version));
    std::string text = fmt::format("Evaluated and written by luxdossier {}", dossier.version);
    if (!libraries.empty())
        text += fmt::format(" with {}", fmt::join(libraries, ", "));
    Blocks blocks{Paragraph{plain(text + ".")}};
    if (dossier.faces.empty())
        return blocks;
    Table table;
    table.caption = plain("Faces used in this document");
    table.columns = {column("Font file"), column("SHA-256")};
    for (const auto& [file, hash] : dossier.faces) {
        Row row;
        const auto slash = file.rfind('/');
        row.cells = {cell(slash == std::string::npos ? file : file.substr(slash + 1)),
                     cell(styled(hash, Style::small))};
        table.rows.push_back(std::move(row));
    }
    blocks.push_back(std::move(table));
    return blocks;
}

}  // namespace luxdossier::report
