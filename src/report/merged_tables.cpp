#include "report/merged_tables.hpp"

#include "report/symbols.hpp"
#include "report/words.hpp"

#include <algorithm>
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

// Notes explain marks in cells: both tables must mean the same by them.
bool same_notes(const Table& a, const Table& b)
{
    return a.notes.size() == b.notes.size() &&
           std::ranges::equal(
               a.notes, b.notes, {}, [](const Text& note) { return plain_text(note); },
               [](const Text& note) { return plain_text(note); });
}

// Whether both tables have the same rows: then their values stand side by side.
bool same_rows(const Table& a, const Table& b)
{
    const auto values = lone_value_column(b);
    if (!values || a.columns.size() <= *values || a.rows.size() != b.rows.size() ||
        (!b.notes.empty() && !same_notes(a, b)))
        return false;
    for (std::size_t c = 0; c < *values; ++c) {
        if (plain_text(a.columns[c].heading) != plain_text(b.columns[c].heading))
            return false;
    }
    for (std::size_t r = 0; r < a.rows.size(); ++r) {
        if (a.rows[r].spanning != b.rows[r].spanning)
            return false;
        for (std::size_t c = 0; c < (a.rows[r].spanning ? 1 : *values); ++c) {
            if (plain_text(a.rows[r].cells[c].text) != plain_text(b.rows[r].cells[c].text))
                return false;
        }
    }
    return true;
}

// A caption in its parts: "Tolerance interval, lower end", ", of reading_error", "k = 2.00".
struct Caption {
    std::string title, shared, factor;
};

Caption caption_of(const Table& table)
{
    Caption caption;
    caption.title = plain_text(table.caption);
    if (const auto k = caption.title.find("; k = "); k != std::string::npos) {
        caption.factor = caption.title.substr(k + 2);
        caption.title.resize(k);
    }
    if (const auto of = caption.title.find(", of "); of != std::string::npos) {
        caption.shared = caption.title.substr(of);
        caption.title.resize(of);
    }
    return caption;
}

// "Warm-up time / s" instead of "Value ± U / s" once several metrics share a table; returns the caption's
// part.
std::string name_values(Table& table, std::size_t column)
{
    const std::string unit = plain_text(table.columns[column].heading).substr(value_heading.size());
    const auto caption = caption_of(table);
    table.columns[column].heading = plain(caption.title + unit);
    return caption.title + (caption.factor.empty() ? "" : " (" + caption.factor + ")");
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
            caption_of(*before).shared != caption_of(*table).shared ||
            before->columns.size() + table->columns.size() > most_columns + *lone_value_column(*table)) {
            before_is_lone = table != nullptr && lone_value_column(*table).has_value();
            merged.push_back(std::move(block));
            continue;
        }
        const std::size_t values = *lone_value_column(*table);
        const std::string shared = caption_of(*table).shared;
        const std::string added = uncapitalised(name_values(*table, values));
        const bool first = plain_text(before->columns[values].heading).starts_with(value_heading);
        std::string caption = plain_text(before->caption);
        if (first)
            caption = name_values(*before, values);
        else if (!shared.empty() && caption.ends_with(shared))
            caption.resize(caption.size() - shared.size());
        before->caption = plain(caption + "; " + added + shared);
        for (std::size_t c = values; c < table->columns.size(); ++c)
            before->columns.push_back(std::move(table->columns[c]));
        for (std::size_t r = 0; r < table->rows.size(); ++r) {
            for (std::size_t c = values; !table->rows[r].spanning && c < table->rows[r].cells.size(); ++c)
                before->rows[r].cells.push_back(std::move(table->rows[r].cells[c]));
        }
    }
    return merged;
}

}  // namespace luxdossier::report
