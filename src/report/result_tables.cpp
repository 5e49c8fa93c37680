#include "report/column_parts.hpp"
#include "report/merged_tables.hpp"
#include "report/numbers.hpp"
#include "report/parts.hpp"
#include "report/reason_marks.hpp"
#include "report/symbols.hpp"
#include "report/together.hpp"
#include "report/words.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <iterator>
#include <map>
#include <set>

#include <fmt/format.h>

namespace luxdossier::report {
namespace {

// Metrics along an angle have too many results to read as a table: their figures, workbook and record hold
// them all.
constexpr std::size_t longest_angle_table = 24;
constexpr std::array<std::string_view, 10> column_order{
    "correction",  "configuration", "source", "other_source", "line",
    "relative_to", "plane",         "side",   "level",        "angle"};

using Indices = std::vector<std::size_t>;

class MetricTables {
public:
    MetricTables(const model::Dossier& dossier, const model::MetricInfo& metric)
        : dossier_(dossier), metric_(metric)
    {
        for (const auto& verdict : dossier.verdicts.verdicts) {
            if (verdict.result)
                judged_.insert(*verdict.result);
        }
    }

    Blocks blocks()
    {
        Indices chosen = without_unjudged_variants(all_results());
        if (chosen.empty())
            return {};
        find_columns(chosen);
        find_rows(chosen);
        set_groups_side_by_side();
        Blocks blocks;
        const auto widths = column_widths_mm();
        for (std::size_t part = 0; part < parts_.size(); ++part) {
            const auto begin = parts_[part],
                       end = part + 1 < parts_.size() ? parts_[part + 1] : samples_.size();
            const auto place = [&](std::size_t column) {
                return widths.begin() + static_cast<std::ptrdiff_t>(column);
            };
            const auto starts = column_parts({place(begin), place(end)}, room_of_columns_mm(), most_columns);
            for (std::size_t i = 0; i < starts.size(); ++i)
                blocks.push_back(
                    table(begin + starts[i], i + 1 < starts.size() ? begin + starts[i + 1] : end));
        }
        if (!left_out_.empty())
            blocks.push_back(Paragraph{plain(left_out_), true});
        return blocks;
    }

private:
    using Key = model::Conditions;

    [[nodiscard]] const model::Result& result(std::size_t index) const
    {
        return dossier_.evaluation.results.at(index);
    }

    [[nodiscard]] Indices all_results() const
    {
        Indices indices;
        for (std::size_t i = 0; i < dossier_.evaluation.results.size(); ++i) {
            if (result(i).metric == metric_.id)
                indices.push_back(i);
        }
        return indices;
    }

    // Deviations exist for each reference line and relation, angular metrics for each angle: the table holds
    // the variants that a limit judges (else the first), and says where the others are.
    Indices without_unjudged_variants(const Indices& all)
    {
        const bool along_angle = !all.empty() && result(all.front()).conditions.contains("angle");
        if (along_angle && all.size() > longest_angle_table) {
            left_out_ =
                fmt::format("{}: {} at single angles stand in the figures, the workbook and the record.",
                            metric_title(dossier_, metric_.id), counted(all.size(), "result"));
            blocks_without_table_ = true;
            return worst_angles(all);
        }
        std::vector<std::string> order;
        std::map<std::string, bool> variant_judged;
        for (const auto index : all) {
            const auto variant = variant_of(index);
            if (!variant_judged.contains(variant))
                order.push_back(variant);
            variant_judged[variant] = variant_judged[variant] || judged_.contains(index);
        }
        const bool any_judged =
            std::ranges::any_of(variant_judged, [](const auto& entry) { return entry.second; });
        Indices kept;
        for (const auto index : all) {
            const auto variant = variant_of(index);
            if (any_judged ? variant_judged[variant] : variant == order.front())
                kept.push_back(index);
        }
        if (kept.size() < all.size())
            left_out_ = fmt::format("Not in the table: {} of {}; they stand in the workbook and the record.",
                                    number_text(static_cast<double>(all.size() - kept.size()), 0),
                                    counted(all.size(), "result"));
        return kept;
    }

    [[nodiscard]] std::string variant_of(std::size_t index) const
    {
        std::string variant;
        for (const auto* name : {"line", "relative_to"}) {
            const auto found = result(index).conditions.find(name);
            if (found != result(index).conditions.end())
                variant += model::condition_text(found->second) + "/";
        }
        return variant;
    }

    // Per sample, configuration, source and plane the angle that stands worst against a limit.
    [[nodiscard]] Indices worst_angles(const Indices& all) const
    {
        std::map<std::string, std::pair<double, std::size_t>> worst;
        for (const auto& verdict : dossier_.verdicts.verdicts) {
            if (!verdict.result || !std::ranges::binary_search(all, *verdict.result))
                continue;
            const auto margin = relative_margin(verdict);
            if (!margin)
                continue;
            auto key = result(*verdict.result).conditions;
            key.erase("angle");
            const auto id = model::result_id(metric_.id, result(*verdict.result).sample, key);
            const auto found = worst.find(id);
            if (found == worst.end() || *margin < found->second.first)
                worst[id] = {*margin, *verdict.result};
        }
        Indices kept;
        for (const auto& [id, entry] : worst)
            kept.push_back(entry.second);
        std::ranges::sort(kept);
        return kept;
    }

    void find_columns(const Indices& chosen)
    {
        std::map<std::string, std::set<model::ConditionValue>> values;
        std::map<std::string, std::size_t> counts;
        for (const auto index : chosen) {
            for (const auto& [name, value] : result(index).conditions) {
                values[name].insert(value);
                ++counts[name];
            }
            const auto& sample = result(index).sample;
            if (std::ranges::find(samples_, sample) == samples_.end())
                samples_.push_back(sample);
        }
        const auto add = [&](const std::string& name) {
            const auto& conditions = result(chosen.front()).conditions;
            if (is_secondary(name, *values[name].begin(), conditions) &&
                (name != "own_light" || values[name].size() == 1))
                return;
            const bool constant =
                values[name].size() == 1 && counts[name] == chosen.size() && name != "level";
            if (constant)
                shared_.push_back(condition_phrase(name, *values[name].begin()));
            else
                columns_.push_back(name);
        };
        for (const auto name : column_order) {
            if (values.contains(std::string(name)))
                add(std::string(name));
        }
        for (const auto& [name, unused] : std::map(values)) {
            if (std::ranges::find(column_order, name) == column_order.end())
                add(name);
        }
        if (blocks_without_table_ && std::ranges::find(columns_, "angle") == columns_.end())
            columns_.emplace_back("angle");
    }

    void find_rows(const Indices& chosen)
    {
        for (const auto index : chosen) {
            const auto& key = result(index).conditions;
            auto row =
                std::ranges::find(rows_, key, &std::pair<Key, std::map<std::string, std::size_t>>::first);
            if (row == rows_.end()) {
                rows_.push_back({key, {}});
                row = rows_.end() - 1;
            }
            row->second.emplace(result(index).sample, index);
            for (const auto& [name, value] : key)
                ranks_.try_emplace({name, model::condition_text(value)}, ranks_.size());
        }
        find_quantities();
        sort_rows();
    }

    void sort_rows()
    {
        std::ranges::stable_sort(rows_,
                                 [this](const auto& a, const auto& b) { return before(a.first, b.first); });
    }

    // Long tables of results that belong to no sample would be one column of values: the groups that words
    // part stand side by side, as samples do elsewhere, those that have the same rows in one table.
    void set_groups_side_by_side()
    {
        constexpr std::size_t rows_that_are_long = 24;
        if (samples_.size() != 1 || !samples_.front().empty() || rows_.size() < rows_that_are_long ||
            !words_head_groups())
            return;
        std::vector<std::pair<Key, std::map<std::string, std::size_t>>> rows;
        std::vector<std::string> groups;
        for (const auto& [key, cells] : rows_) {
            Key quantities;
            for (const auto& [name, value] : key)
                if (is_quantity(name))
                    quantities.emplace(name, value);
            const auto group = group_of(key);
            if (std::ranges::find(groups, group) == groups.end())
                groups.push_back(group);
            auto row = std::ranges::find(rows, quantities, [](const auto& entry) { return entry.first; });
            if (row == rows.end())
                row = rows.insert(row, {quantities, {}});
            row->second.emplace(group, cells.begin()->second);
        }
        const auto rows_of = [&](const std::string& group) {
            std::vector<bool> has;
            for (const auto& [key, cells] : rows)
                has.push_back(cells.contains(group));
            return has;
        };
        std::ranges::stable_sort(groups, std::greater(), [&](const std::string& group) {
            auto has = rows_of(group);
            return std::pair(std::ranges::count(has, true), std::move(has));
        });
        for (std::size_t g = 1; g < groups.size(); ++g)
            if (rows_of(groups[g]) != rows_of(groups[g - 1]))
                parts_.push_back(g);
        rows_ = std::move(rows);
        samples_ = std::move(groups);
        std::erase_if(columns_, [this](const auto& name) { return !is_quantity(name); });
        sort_rows();
    }

    // Words in the order in which they first came, quantities by size.
    [[nodiscard]] bool before(const Key& a, const Key& b) const
    {
        for (const auto& name : columns_) {
            const auto left = a.find(name);
            const auto right = b.find(name);
            if (left == a.end() || right == b.end()) {
                if ((left == a.end()) != (right == b.end()))
                    return left == a.end();
                continue;
            }
            if (left->second == right->second)
                continue;
            const auto* x = std::get_if<model::ConditionQuantity>(&left->second);
            const auto* y = std::get_if<model::ConditionQuantity>(&right->second);
            if (x != nullptr && y != nullptr)
                return x->value < y->value;
            return ranks_.at({name, model::condition_text(left->second)}) <
                   ranks_.at({name, model::condition_text(right->second)});
        }
        return false;
    }

    static constexpr std::size_t most_columns = 6;

    // Of each sample's column, so that none is too narrow.
    [[nodiscard]] std::vector<double> column_widths_mm()
    {
        constexpr double widest_heading_mm = 22;
        std::vector<double> widths;
        for (const auto& sample : samples_) {
            DecimalWidth figures;
            for (const auto& [key, cells] : rows_)
                if (const auto found = cells.find(sample); found != cells.end())
                    figures.add(plain_text(value_cell(found->second).text));
            widths.push_back(column_width_mm(figures, sample + " / lx", widest_heading_mm));
        }
        return widths;
    }

    // What the columns of conditions and of the coverage factor leave for those of the samples.
    [[nodiscard]] double room_of_columns_mm() const
    {
        constexpr double page_mm = 168, factor_mm = 15, quantity_mm = 13, words_mm = 32;
        bool same_factor = true, has_words = false;
        std::string factor;
        for (const auto& [key, cells] : rows_) {
            for (const auto& [sample, index] : cells) {
                const std::string own = has_factor(index) ? factor_range({index}) : factor;
                same_factor = same_factor && (factor.empty() || own == factor);
                factor = own;
            }
        }
        double others = same_factor ? 0 : factor_mm + column_gap_mm;
        for (const auto& name : columns_) {
            others += is_quantity(name) ? quantity_mm + column_gap_mm : 0;
            has_words = has_words || !is_quantity(name);
        }
        others += has_words && !words_head_groups() ? words_mm + column_gap_mm : 0;
        return page_mm + column_gap_mm - others;
    }

    // A quantity has a column of its own where every row states it, or where it is what a metric runs over;
    // one that few rows state heads them like a word, as a column would be empty.
    [[nodiscard]] bool is_quantity(const std::string& name) const { return quantities_.contains(name); }

    void find_quantities()
    {
        for (const auto& name : columns_) {
            std::size_t stated = 0;
            for (const auto& [key, cells] : rows_) {
                const auto found = key.find(name);
                if (found != key.end() && std::holds_alternative<model::ConditionQuantity>(found->second))
                    ++stated;
            }
            if (stated > 0 &&
                (stated == rows_.size() || name == "level" || name == "angle" || name == "plane"))
                quantities_.insert(name);
        }
        std::ranges::stable_partition(columns_, [this](const auto& name) { return !is_quantity(name); });
    }

    // Words that part the rows of a table: "bare, led, independent line".
    [[nodiscard]] std::string group_of(const Key& key) const
    {
        std::string group;
        for (const auto& name : columns_) {
            const auto found = key.find(name);
            if (found == key.end() || is_quantity(name))
                continue;
            group += (group.empty() ? "" : ", ") + condition_phrase(name, found->second);
        }
        return group;
    }

    Table table(std::size_t first, std::size_t last)
    {
        Table table;
        std::string caption = metric_title(dossier_, metric_.id);
        for (const auto& phrase : shared_)
            caption += ", " + phrase;
        if (blocks_without_table_)
            caption += ": angle that stands worst against its limit";
        table.caption = plain(caption);
        add_heads(table, first, last);
        marks_ = {};
        has_trials_mark_ = false;
        std::string group;
        for (const auto& [key, cells] : rows_) {
            Row row = result_row(key, cells, first, last);
            if (row.cells.empty())
                continue;
            if (const auto words = group_of(key); words != group && has_groups_) {
                Row heading;
                heading.spanning = true;
                heading.group_start = !table.rows.empty();
                heading.cells.push_back(cell(styled(words, Style::italic)));
                table.rows.push_back(std::move(heading));
                group = words;
            }
            table.rows.push_back(std::move(row));
        }
        settle_factor(table);
        std::ranges::move(marks_.notes(), std::back_inserter(table.notes));
        if (has_trials_mark_)
            table.notes.push_back(trials_note());
        return table;
    }

    // One k for all rows stands in the caption; results without an uncertainty have none.
    static void settle_factor(Table& table)
    {
        std::set<std::string> factors;
        for (const auto& row : table.rows) {
            if (!row.spanning)
                factors.insert(plain_text(row.cells.back().text));
        }
        factors.erase("");
        if (factors.size() > 1)
            return;
        if (!factors.empty() && factors.begin()->find("–") != std::string::npos)
            return;
        if (!factors.empty()) {
            append(table.caption, plain("; "));
            append(table.caption, styled("k", Style::italic));
            append(table.caption, plain(" = " + *factors.begin()));
        }
        table.columns.pop_back();
        for (auto& row : table.rows) {
            if (!row.spanning)
                row.cells.pop_back();
        }
    }

    Row result_row(const Key& key, const std::map<std::string, std::size_t>& cells, std::size_t first,
                   std::size_t last)
    {
        Row row;
        if (!has_groups_ && !words_column_.empty())
            row.cells.push_back(cell(group_of(key)));
        for (const auto& name : columns_) {
            if (!is_quantity(name))
                continue;
            const auto found = key.find(name);
            row.cells.push_back(cell(found == key.end() ? "" : condition_cell(found->first, found->second)));
        }
        Indices present;
        bool any = false;
        for (std::size_t s = first; s < last; ++s) {
            const auto found = cells.find(samples_[s]);
            any = any || found != cells.end();
            row.cells.push_back(found == cells.end() ? cell("") : value_cell(found->second));
            if (found != cells.end() && has_factor(found->second))
                present.push_back(found->second);
        }
        if (!any)
            return {};
        row.cells.push_back(cell(factor_range(present)));
        return row;
    }

    // Rows that words alone tell apart name them in a column; where quantities part them further, words head
    // groups.
    [[nodiscard]] bool words_head_groups() const
    {
        constexpr std::size_t rows_worth_a_heading = 3;
        bool quantities = false, words = false;
        for (const auto& name : columns_)
            (is_quantity(name) ? quantities : words) = true;
        std::set<std::string> groups;
        for (const auto& [key, cells] : rows_)
            groups.insert(group_of(key));
        return quantities && words && rows_.size() >= rows_worth_a_heading * groups.size();
    }

    void add_heads(Table& table, std::size_t first, std::size_t last)
    {
        has_groups_ = words_head_groups();
        words_column_.clear();
        for (const auto& name : columns_) {
            if (!is_quantity(name))
                words_column_ += (words_column_.empty() ? "" : ", ") + condition_heading(name, "");
        }
        if (!has_groups_ && !words_column_.empty())
            table.columns.push_back(column(words_column_));
        for (const auto& name : columns_) {
            if (!is_quantity(name))
                continue;
            std::string unit;
            for (const auto& [key, unused] : rows_) {
                const auto found = key.find(name);
                if (found != key.end() && std::holds_alternative<model::ConditionQuantity>(found->second))
                    unit = std::get<model::ConditionQuantity>(found->second).unit;
            }
            table.columns.push_back(column(condition_heading(name, unit), Alignment::decimal));
        }
        const std::string unit = unit_text(metric_.unit);
        for (std::size_t s = first; s < last; ++s) {
            const std::string name = samples_[s].empty() ? std::string(value_heading) : samples_[s];
            table.columns.push_back(column(unit.empty() ? name : fmt::format("{}\u00a0/\u00a0{}", name, unit),
                                           Alignment::decimal));
        }
        table.columns.push_back({styled("k", Style::italic), Alignment::right, 1});
    }

    Cell value_cell(std::size_t index)
    {
        const auto& shown = result(index);
        Text text;
        if (!shown.value) {
            text = plain("no value");
        } else if (!shown.combined) {
            text = plain((shown.upper_bound ? "≤ " : "") + significant_text(*shown.value, 3));
        } else {
            const auto rounded = rounded_result(*shown.value, *shown.expanded_uncertainty());
            text = plain(
                fmt::format("{}{} ± {}", shown.upper_bound ? "≤ " : "", rounded.value, rounded.uncertainty));
        }
        if (shown.is_judged_by_trials) {
            text.push_back({std::string(trials_mark), Style::superscript});
            has_trials_mark_ = true;
        }
        if (!shown.undecided.empty())
            text.push_back(
                {marks_.mark_of(shown.undecided.substr(0, shown.undecided.find(" ("))), Style::superscript});
        return cell(std::move(text));
    }

    /// An interval of trials has no coverage factor.
    [[nodiscard]] bool has_factor(std::size_t index) const
    {
        return result(index).combined && !result(index).is_judged_by_trials;
    }

    [[nodiscard]] std::string factor_range(const Indices& indices) const
    {
        if (indices.empty())
            return {};
        const auto factor = [&](std::size_t i) { return result(i).combined->coverage_factor; };
        const auto [low, high] = std::ranges::minmax_element(indices, {}, factor);
        const std::string least = number_text(factor(*low), 2), greatest = number_text(factor(*high), 2);
        return least == greatest ? least : fmt::format("{}–{}", least, greatest);
    }

    const model::Dossier& dossier_;
    const model::MetricInfo& metric_;
    std::set<std::size_t> judged_;
    std::vector<std::string> columns_, samples_, shared_;
    std::vector<std::size_t> parts_{0};  ///< where in samples_ other tables begin
    std::set<std::string> quantities_;
    std::vector<std::pair<Key, std::map<std::string, std::size_t>>> rows_;
    std::map<std::pair<std::string, std::string>, std::size_t> ranks_;
    ReasonMarks marks_;
    std::string left_out_, words_column_;
    bool has_groups_ = false;
    bool has_trials_mark_ = false;  ///< in the table that is being made
    bool blocks_without_table_ = false;
};

}  // namespace

Blocks result_tables(const model::Dossier& dossier, const model::FamilyInfo& family)
{
    Blocks blocks;
    for (const auto& metric : family.metrics) {
        for (auto& block : MetricTables(dossier, metric).blocks())
            blocks.push_back(std::move(block));
    }
    return side_by_side(std::move(blocks));
}

}  // namespace luxdossier::report
