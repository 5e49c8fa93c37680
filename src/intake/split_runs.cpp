#include "intake/split_runs.hpp"

#include <bit>
#include <cmath>
#include <map>

namespace luxdossier::intake {
namespace {

using Key = std::vector<std::uint64_t>;

struct ConditionColumn {
    const ColumnRequest* request = nullptr;
    const model::NumberColumn* numbers = nullptr;
    const model::TextColumn* texts = nullptr;
};

std::vector<ConditionColumn> condition_columns(std::span<const ColumnRequest> requests,
                                               const model::Table& table)
{
    std::vector<ConditionColumn> columns;
    for (const auto& request : requests) {
        if (request.is_condition)
            columns.push_back({&request, table.number(request.meaning), table.text(request.meaning)});
    }
    return columns;
}

/// The combination of one row; empty where a condition is missing in it.
bool combination_of(const std::vector<ConditionColumn>& columns, std::size_t row, Key& key)
{
    key.clear();
    for (const auto& column : columns) {
        if (column.numbers != nullptr) {
            const auto value = column.numbers->values[row];
            if (std::isnan(value))
                return false;
            key.push_back(std::bit_cast<std::uint64_t>(value == 0.0 ? 0.0 : value));
        } else {
            if (column.texts->texts[column.texts->values[row]].empty())
                return false;
            key.push_back(column.texts->values[row]);
        }
    }
    return true;
}

void set_condition(model::Run& run, const ConditionColumn& column, std::size_t row)
{
    const auto& name = column.request->meaning;
    if (column.numbers != nullptr) {
        run.conditions.insert_or_assign(
            name, model::ConditionQuantity{column.numbers->values[row], column.request->unit});
        return;
    }
    const auto& text = column.texts->texts[column.texts->values[row]];
    if (name == "sample")
        run.sample = text;
    else if (name == "configuration")
        run.configuration = text;
    else if (name == "source")
        run.source = text;
    else
        run.conditions.insert_or_assign(name, text);
}

}  // namespace

std::vector<model::Run> split_runs(const model::Run& stated, std::span<const ColumnRequest> requests,
                                   const std::shared_ptr<const model::Table>& table,
                                   const std::vector<bool>& excluded)
{
    const auto columns = condition_columns(requests, *table);
    std::vector<model::Run> runs;
    std::map<Key, std::size_t> place_of;
    Key key;
    Key latest;
    std::size_t place = 0;
    for (std::size_t row = 0; row < table->rows; ++row) {
        if (!combination_of(columns, row, key))
            continue;
        if (runs.empty() || key != latest) {
            const auto [found, is_new] = place_of.try_emplace(key, runs.size());
            if (is_new) {
                runs.push_back(stated);
                runs.back().table = table;
                for (const auto& column : columns)
                    set_condition(runs.back(), column, row);
            }
            place = found->second;
            latest = key;
        }
        if (excluded.empty() || !excluded[row])
            runs[place].rows.push_back(static_cast<std::uint32_t>(row));
    }
    return runs;
}

}  // namespace luxdossier::intake
