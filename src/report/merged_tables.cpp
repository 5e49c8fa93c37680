#include "report/merged_tables.hpp"

#include "report/symbols.hpp"
#include "report/words.hpp"

#include <optional>

namespace luxdossier::report {
namespace {

// Column of the values of a table whose results have no sample; absent where there are several.
std::optional<std::size_t> lone_value_column(const Table& table)
{
    for (std::size_t c = 0; c < table.columns.size(); ++c) {
        if (plain_text(table.columns[c].heading).starts_with(value_heading))
            return c;
    }
    return std::nullopt;
}

// Whether both tables have the same rows: then their values stand side by side.
bool same_rows(const Table& a, const Table& b)
{
    const auto values = lone_value_column(b);
    if (!values || a.columns.size() <= *values || a.rows.size() != b.rows.size() || !a.notes.empty() ||
        !b.notes.empty())
        return false;
    for (std::size_t c = 0; c < *values; ++c) {
        if (plain_text(a.columns[c].heading) != plain_text(b.columns[c].heading))
            return false;
    }
    for (std::size_t r = 0; r < a.rows.size(); ++r) {
        if (a.rows[r].spanning || b.rows[r].spanning)
            return false;
        for (std::size_t c = 0; c < *values; ++c) {
            if (plain_text(a.rows[r].cells[c].text) != plain_text(b.rows[r].cells[c].text))
                return false;
        }
    }
    return true;
}

// "Warm-up time / s" instead of "Value ± U / s" once several metrics share a table.
void name_values(Table& table, std::size_t column)
{
    const std::string unit = plain_text(table.columns[column].heading).substr(value_heading.size());
    std::string name = plain_text(table.caption);
    std::string factor;
    if (const auto k = name.find("; k = "); k != std::string::npos) {
        factor = name.substr(k);
        name.resize(k);
    }
    table.columns[column].heading = plain(name + unit);
    table.caption = plain(name + (factor.empty() ? "" : " (" + factor.substr(2) + ")"));
}

}  // namespace

Blocks side_by_side(Blocks blocks)
{
    constexpr std::size_t most_columns = 8;
    Blocks merged;
    bool before_is_lone = false;
    for (auto& block : blocks) {
        auto* table = std::get_if<Table>(&block);
        auto* before = merged.empty() ? nullptr : std::get_if<Table>(&merged.back());
        if (table == nullptr || before == nullptr || !before_is_lone || !same_rows(*before, *table) ||
            before->columns.size() + table->columns.size() > most_columns + *lone_value_column(*table)) {
            before_is_lone = table != nullptr && lone_value_column(*table).has_value();
            merged.push_back(std::move(block));
            continue;
        }
        const std::size_t values = *lone_value_column(*table);
        name_values(*table, values);
        const bool first = plain_text(before->columns[values].heading).starts_with(value_heading);
        if (first)
            name_values(*before, values);
        before->caption =
            plain(plain_text(before->caption) + "; " + uncapitalised(plain_text(table->caption)));
        for (std::size_t c = values; c < table->columns.size(); ++c)
            before->columns.push_back(std::move(table->columns[c]));
        for (std::size_t r = 0; r < table->rows.size(); ++r) {
            for (std::size_t c = values; c < table->rows[r].cells.size(); ++c)
                before->rows[r].cells.push_back(std::move(table->rows[r].cells[c]));
        }
    }
    return merged;
}

}  // namespace luxdossier::report
