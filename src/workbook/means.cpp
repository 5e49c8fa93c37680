#include "workbook/means.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace luxdossier::workbook {

using uncertainty::Input;

namespace {

constexpr std::size_t most_areas = 100;  ///< a function takes 255 arguments
constexpr std::size_t least_for_autocorrelation = 10;
constexpr std::size_t least_for_neighbours = 3;
constexpr std::uint16_t pool_s = 3, pool_freedom = 4, pool_covariance = 5, pool_stretch = 6;
constexpr std::uint16_t set_pair_covariance = 13;

bool agrees(double found, double expected)
{
    return found == expected || std::abs(found - expected) <= 1e-9 * std::abs(expected);
}

double mean_of(const std::vector<double>& values)
{
    double total = 0;
    for (const double value : values)
        total += value;
    return total / static_cast<double>(values.size());
}

/// Sum of (x - mean(x))(y - mean(y)).
double products(const std::vector<double>& x, const std::vector<double>& y, std::size_t lag = 0)
{
    const double mean_x = mean_of(x), mean_y = mean_of(y);
    double total = 0;
    for (std::size_t i = 0; i + lag < x.size(); ++i)
        total += (x[i] - mean_x) * (y[i + lag] - mean_y);
    return total;
}

std::optional<Term> if_agrees(Term term, double expected)
{
    if (!std::isfinite(term.value) || !agrees(term.value, expected))
        return {};
    return term;
}

bool beyond_device(double r1, double n, double r, double largest)
{
    return (r1 + 1 / n) / ((1 - 2 / n) * (1 - 2 / n)) >
           r + largest * std::sqrt((1 - r * r) / (n - 1)) / (1 - 2 / n);
}

}  // namespace

MeanFormulas::MeanFormulas(const model::Dossier& dossier, const CellMap& map)
    : dossier_(dossier), map_(map), neighbours_(dossier, map), rows_(dossier.evaluation.sets.size()),
      pool_of_set_(rows_.size())
{
    for (std::size_t set = 0; set < rows_.size(); ++set) {
        if (const auto input = dossier.evaluation.sets[set].input)
            set_of_input_[input->index] = set;
        write_readings(set);
    }
    neighbours_.finish();
    find_partners();
    for (std::size_t set = 0; set < rows_.size(); ++set)
        write_pair(set);
    find_pools();
    for (std::size_t pool = 0; pool < pools_.size(); ++pool)
        write_pool(pools_[pool], pool);
    for (std::size_t set = 0; set < rows_.size(); ++set)
        write_uncertainty(set);
    write_inputs();
    write_groups();
    write_half_widths();
    write_slopes();
}

Term MeanFormulas::cell(std::size_t set, std::uint16_t column, double value) const
{
    return {map_.set_cell(set, column), value};
}

std::vector<MeanFormulas::Area> MeanFormulas::areas(std::size_t set) const
{
    const auto& readings = dossier_.evaluation.sets[set];
    const auto* table = dossier_.qualification.runs[readings.run].table.get();
    if (table == nullptr)
        return {};
    const auto found = std::ranges::find(table->numbers, readings.column, &model::NumberColumn::meaning);
    if (found == table->numbers.end())
        return {};
    const auto number = static_cast<std::size_t>(found - table->numbers.begin());
    std::vector<Area> result;
    for (std::size_t i = 0; i < readings.rows.size(); ++i) {
        const auto [sheet, position] = map_.reading(readings.run, readings.rows[i], number);
        if (!result.empty() && result.back().sheet == sheet && result.back().last.row + 1 == position.row) {
            result.back().last = position;
            result.back().to = i;
        } else {
            result.push_back({sheet, position, position, i, i});
        }
    }
    return result;
}

std::vector<double> MeanFormulas::readings(std::size_t set) const
{
    const auto& of_set = dossier_.evaluation.sets[set];
    const auto* column = dossier_.qualification.runs[of_set.run].table->number(of_set.column);
    std::vector<double> values;
    for (const auto row : of_set.rows)
        values.push_back(column->values.at(row));
    return values;
}

void MeanFormulas::write_readings(std::size_t set)
{
    const auto& expected = dossier_.evaluation.sets[set];
    const auto where = areas(set);
    if (where.empty() || where.size() > most_areas)
        return;
    const auto values = readings(set);
    std::string list;
    for (const auto& area : where) {
        if (!list.empty())
            list += ',';
        list += area.first.row == area.last.row ? reference(*area.sheet, area.first)
                                                : range_reference(*area.sheet, area.first, area.last);
    }
    auto& row = rows_[set];
    row.mean = if_agrees({fmt::format("AVERAGE({})", list), mean_of(values)}, expected.mean);
    if (!row.mean || values.size() < 2)
        return;
    const bool all_equal = std::ranges::all_of(values, [&](double value) { return value == values.front(); });
    const double s =
        all_equal ? 0 : std::sqrt(products(values, values) / static_cast<double>(values.size() - 1));
    row.own = Term{fmt::format("IF(MAX({0})=MIN({0}),0,STDEV({0}))", list), s};
    const bool ordered = dossier_.qualification.runs[expected.run].time_ordered;
    const bool by_itself = values.size() >= least_for_autocorrelation && !all_equal;
    const bool with_others = expected.device && values.size() >= least_for_neighbours;
    if (!ordered || !(by_itself || with_others))
        return;
    // r1, over the stretches of rows and across their joints.
    const auto mean = map_.set_cell(set, column::set_mean);
    std::string text;
    const auto add = [&](const std::string& part) { text += (text.empty() ? "" : "+") + part; };
    for (std::size_t i = 0; i < where.size(); ++i) {
        const auto& area = where[i];
        if (area.from < area.to)
            add(fmt::format(
                "SUMPRODUCT({}-{},{}-{})",
                range_reference(*area.sheet, area.first, {area.last.row - 1, area.last.column}), mean,
                range_reference(*area.sheet, {area.first.row + 1, area.first.column}, area.last), mean));
        if (i + 1 < where.size())
            add(fmt::format("({}-{})*({}-{})", reference(*area.sheet, area.last), mean,
                            reference(*where[i + 1].sheet, where[i + 1].first), mean));
    }
    const double r1 = all_equal ? 0 : products(values, values, 1) / products(values, values);
    row.r1 = Term{
        fmt::format("IF({1}=0,0,({0})/DEVSQ({2}))", text, map_.set_cell(set, column::set_own), list), r1};
    row.tells_of_device = with_others && !expected.is_half &&
                          dossier_.qualification.runs[expected.run].kind == model::RunKind::comparison;
    if (row.tells_of_device)
        neighbours_.take(set, r1, s);
}

double MeanFormulas::factor(std::size_t set) const
{
    const auto& row = rows_[set];
    const auto n = static_cast<double>(dossier_.evaluation.sets[set].n);
    return row.effective_n ? (n - 1) / (row.effective_n->value - 1) : 1;
}

/// Degrees of freedom of the standard deviation of a set that stands by itself.
Term MeanFormulas::own_freedom(std::size_t set) const
{
    const auto& row = rows_[set];
    const auto n = static_cast<double>(dossier_.evaluation.sets[set].n);
    const auto by_device = dossier_.evaluation.sets[set].device
                               ? neighbours_.freedom(set)
                               : Term{map_.set_cell(set, column::set_n) + "-1", n - 1};
    if (!row.shows_own)
        return by_device;
    return {fmt::format("IF({}=1,MAX(1,INT({}-1)),{})", map_.set_cell(set, column::set_shows_own),
                        map_.set_cell(set, column::set_factor), by_device.text),
            row.shows_own->value == 1 ? std::max(1.0, std::floor(row.effective_n->value - 1))
                                      : by_device.value};
}

/// Variance of the mean of a pooled set over s^2: 1/n, or more where neighbours correlate.
std::optional<Term> MeanFormulas::pooled_factor(std::size_t set) const
{
    const auto& sets = dossier_.evaluation.sets;
    const auto n = static_cast<double>(sets[set].n);
    std::string text = fmt::format("1/{}", map_.set_cell(set, column::set_n));
    double value = 1 / n;
    for (const auto of : {std::optional(set), partners_[set]}) {
        if (!of || !sets[*of].device)
            continue;
        if (!pool_of_set_[*of] || !pools_[*pool_of_set_[*of]].stretch)
            return {};
        const auto pool_row = first_row + static_cast<std::uint32_t>(*pool_of_set_[*of]);
        const auto effective_n = neighbours_.effective_n(*of);
        text += fmt::format(",{}/{}", reference("pools", {pool_row, pool_stretch}), effective_n.text);
        value = std::max(value, pools_[*pool_of_set_[*of]].stretch->value / effective_n.value);
    }
    return Term{fmt::format("MAX({})", text), value};
}

void MeanFormulas::find_partners()
{
    const auto& sets = dossier_.evaluation.sets;
    partners_.resize(sets.size());
    std::map<std::pair<std::size_t, std::vector<std::uint32_t>>, std::vector<std::size_t>> by_rows;
    for (std::size_t set = 0; set < sets.size(); ++set)
        by_rows[{sets[set].run, sets[set].rows}].push_back(set);
    const auto& graph = dossier_.evaluation.graph;
    for (const auto& [rows, same] : by_rows)
        for (const auto a : same)
            for (const auto b : same)
                if (sets[a].column != sets[b].column && sets[a].input && sets[b].input &&
                    graph.group_of(*sets[a].input) &&
                    graph.group_of(*sets[a].input) == graph.group_of(*sets[b].input))
                    partners_[a] = b;
}

void MeanFormulas::write_pair(std::size_t set)
{
    auto& row = rows_[set];
    const auto& sets = dossier_.evaluation.sets;
    const auto n = static_cast<double>(sets[set].n);
    const auto n_cell = map_.set_cell(set, column::set_n);
    if (row.own) {
        const auto by_device = sets[set].device ? neighbours_.effective_n(set) : Term{n_cell, n};
        if (row.r1 && sets[set].n >= least_for_autocorrelation) {
            const auto r1 = map_.set_cell(set, column::set_r1),
                       shows_own = map_.set_cell(set, column::set_shows_own);
            const double value = row.r1->value;
            bool significant = value > (-1 + 2.3263 * std::sqrt(n - 2)) / (n - 1);
            std::string beyond = "TRUE";
            if (sets[set].device) {
                // Where the device shows a correlation, only one that is larger counts.
                const auto of_device = neighbours_.r(*sets[set].device),
                           largest = neighbours_.largest(*sets[set].device);
                significant = significant && (of_device.value == 0 ||
                                              beyond_device(value, n, of_device.value, largest.value));
                beyond = fmt::format("OR({2}=0,({0}+1/{1})/POWER(1-2/{1},2)>{2}+{3}*SQRT((1-{2}*{2})/({1}-1))"
                                     "/(1-2/{1}))",
                                     r1, n_cell, of_device.text, largest.text);
            }
            const double r = std::min(0.95, std::max(0.0, value + (1 + 4 * value) / n));
            const auto text = fmt::format("MIN(0.95,MAX(0,{0}+(1+4*{0})/{1}))", r1, n_cell);
            row.shows_own =
                Term{fmt::format("IF(AND({0}>(-1+2.3263*SQRT({1}-2))/({1}-1),{2}),1,0)", r1, n_cell, beyond),
                     significant ? 1.0 : 0.0};
            row.effective_n = Term{fmt::format("IF({0}=1,MAX(2,{1}*(1-{2})/(1+{2})),{3})", shows_own, n_cell,
                                               text, by_device.text),
                                   significant ? std::max(2.0, n * (1 - r) / (1 + r)) : by_device.value};
        } else {
            row.effective_n = by_device;
        }
    }
    if (!partners_[set] || !row.own)
        return;
    const auto other = *partners_[set];
    const auto mine = areas(set), theirs = areas(other);
    if (mine.empty() || theirs.empty() || mine.size() != theirs.size() || sets[set].n < 2)
        return;
    std::string text;
    for (std::size_t i = 0; i < mine.size(); ++i)
        text += fmt::format("{}SUMPRODUCT({}-{},{}-{})", i == 0 ? "" : "+",
                            range_reference(*mine[i].sheet, mine[i].first, mine[i].last),
                            map_.set_cell(set, column::set_mean),
                            range_reference(*theirs[i].sheet, theirs[i].first, theirs[i].last),
                            map_.set_cell(other, column::set_mean));
    row.pair_covariance =
        Term{fmt::format("({})/({}-1)", text, n_cell), products(readings(set), readings(other)) / (n - 1)};
    if (row.pair_covariance->text.size() > longest_formula - 2)
        row.pair_covariance.reset();
}

void MeanFormulas::find_pools()
{
    const auto& sets = dossier_.evaluation.sets;
    std::map<std::vector<std::size_t>, std::size_t> known;
    for (std::size_t set = 0; set < sets.size(); ++set) {
        if (!sets[set].pooled || sets[set].pool.empty())
            continue;
        const auto [found, fresh] = known.emplace(sets[set].pool, pools_.size());
        if (fresh)
            pools_.push_back({sets[set].pool,
                              dossier_.qualification.runs[sets[set].run].id,
                              sets[set].column,
                              {},
                              {},
                              {},
                              {}});
        pool_of_set_[set] = found->second;
    }
}

void MeanFormulas::write_pool(Pool& pool, std::size_t /*index*/)
{
    std::string squares, weights, covariances, traces, traces_of_squares;
    double sum_squares = 0, sum_weights = 0, sum_covariances = 0, trace = 0, trace_of_square = 0;
    const auto device = dossier_.evaluation.sets[pool.sets.front()].device;
    bool pairs = true;
    for (const auto set : pool.sets) {
        const auto& row = rows_[set];
        const auto& of_set = dossier_.evaluation.sets[set];
        if (!row.own || of_set.mean == 0)
            return;
        const auto n = map_.set_cell(set, column::set_n), s = map_.set_cell(set, column::set_own),
                   mean = map_.set_cell(set, column::set_mean);
        const double weight = static_cast<double>(of_set.n) - 1;
        const auto* plus = squares.empty() ? "" : "+";
        squares += fmt::format("{}({}-1)*POWER({}/{},2)", plus, n, s, mean);
        weights += fmt::format("{}{}-1", plus, n);
        sum_squares += weight * std::pow(row.own->value / of_set.mean, 2);
        sum_weights += weight;
        if (device) {
            traces += plus + neighbours_.trace(set).text;
            traces_of_squares += plus + neighbours_.trace_of_square(set).text;
            trace += neighbours_.trace(set).value;
            trace_of_square += neighbours_.trace_of_square(set).value;
        }
        pairs = pairs && row.pair_covariance && partners_[set];
        if (!pairs)
            continue;
        const auto other = *partners_[set];
        covariances += fmt::format("{}({}-1)*{}/({}*{})", plus, n, map_.set_cell(set, set_pair_covariance),
                                   mean, map_.set_cell(other, column::set_mean));
        sum_covariances +=
            weight * row.pair_covariance->value / (of_set.mean * dossier_.evaluation.sets[other].mean);
    }
    if (squares.size() + weights.size() > longest_formula - 32 || covariances.size() > longest_formula / 2)
        return;
    pool.freedom = Term{weights, sum_weights};
    if (device) {
        pool.freedom = neighbours_.freedom(*device, *pool.freedom, {"(" + traces + ")", trace},
                                           {"(" + traces_of_squares + ")", trace_of_square});
        pool.stretch = Term{fmt::format("({})/({})", weights, traces), sum_weights / trace};
    }
    pool.relative_s =
        Term{fmt::format("SQRT(({})/({}))", squares, weights), std::sqrt(sum_squares / sum_weights)};
    if (pairs)
        pool.relative_covariance =
            Term{fmt::format("({})/({})", covariances, weights), sum_covariances / sum_weights};
}

void MeanFormulas::write_uncertainty(std::size_t set)
{
    auto& row = rows_[set];
    const auto& expected = dossier_.evaluation.sets[set];
    if (!row.mean)
        return;
    const auto n = static_cast<double>(expected.n);
    const auto n_cell = map_.set_cell(set, column::set_n), used = map_.set_cell(set, column::set_used);
    if (expected.pooled) {
        if (!pool_of_set_[set] || !pools_[*pool_of_set_[set]].relative_s)
            return;
        const auto pool_row = first_row + static_cast<std::uint32_t>(*pool_of_set_[set]);
        const auto& pool = pools_[*pool_of_set_[set]];
        const double s = pool.relative_s->value * std::abs(row.mean->value);
        const Term term{fmt::format("{}*ABS({})", reference("pools", {pool_row, pool_s}),
                                    map_.set_cell(set, column::set_mean)),
                        s};
        if (const auto factor = pooled_factor(set))
            row.uncertainty =
                if_agrees({fmt::format("{}*SQRT({})", used, factor->text), s * std::sqrt(factor->value)},
                          expected.standard_uncertainty);
        if (row.uncertainty)
            row.used = term;
        Term freedom{reference("pools", {pool_row, pool_freedom}), pool.freedom->value};
        if (const auto partner = partners_[set]; partner && pool_of_set_[*partner]) {
            const auto& other = pools_[*pool_of_set_[*partner]];
            if (!other.freedom)
                return;
            const auto other_row = first_row + static_cast<std::uint32_t>(*pool_of_set_[*partner]);
            freedom = {fmt::format("MIN({},{})", freedom.text, reference("pools", {other_row, pool_freedom})),
                       std::min(freedom.value, other.freedom->value)};
        }
        row.freedom = if_agrees(freedom, expected.degrees_of_freedom);
        return;
    }
    if (!row.own)
        return;
    const auto factor_text = [&](std::size_t of) {
        return fmt::format("({0}-1)/({1}-1)", map_.set_cell(of, column::set_n),
                           map_.set_cell(of, column::set_factor));
    };
    const auto of_factor = [&](const std::string& text, double value) {
        return Term{fmt::format("{}*SQRT({}/{})", used, text, n_cell), row.own->value * std::sqrt(value / n)};
    };
    row.used = Term{map_.set_cell(set, column::set_own), row.own->value};
    row.uncertainty = if_agrees(of_factor(factor_text(set), factor(set)), expected.standard_uncertainty);
    const auto own = own_freedom(set);
    row.freedom = if_agrees(own, expected.degrees_of_freedom);
    if (!partners_[set] || !rows_[*partners_[set]].effective_n)
        return;
    // Taken together: the larger factor and the smaller degrees of freedom count for both.
    const auto other = *partners_[set];
    if (auto both = if_agrees(of_factor(fmt::format("MAX({},{})", factor_text(set), factor_text(other)),
                                        std::max(factor(set), factor(other))),
                              expected.standard_uncertainty))
        row.uncertainty = both;
    const auto others = own_freedom(other);
    if (auto both =
            if_agrees({fmt::format("MIN({},{})", own.text, others.text), std::min(own.value, others.value)},
                      expected.degrees_of_freedom))
        row.freedom = both;
}

void MeanFormulas::write_inputs()
{
    const auto& evaluation = dossier_.evaluation;
    const auto keep = [](std::map<std::uint32_t, Term>& terms, Input input, const Term& term,
                         double expected) {
        if (auto good = if_agrees(term, expected))
            terms[input.index] = *good;
    };
    for (std::size_t set = 0; set < rows_.size(); ++set) {
        const auto& of_set = evaluation.sets[set];
        const auto& row = rows_[set];
        if (of_set.input && row.mean) {
            const auto& input = evaluation.graph.inputs()[of_set.input->index];
            keep(estimates_, *of_set.input, cell(set, column::set_mean, of_set.mean), input.estimate);
            if (row.uncertainty)
                keep(uncertainties_, *of_set.input,
                     cell(set, column::set_uncertainty, of_set.standard_uncertainty),
                     input.standard_uncertainty);
            if (row.freedom)
                keep(freedoms_, *of_set.input, cell(set, column::set_freedom, of_set.degrees_of_freedom),
                     input.degrees_of_freedom);
        }
        if (of_set.resolution_input && of_set.resolution && row.used) {
            const auto q = map_.set_cell(set, column::set_resolution),
                       s = map_.set_cell(set, column::set_used);
            const double half = *of_set.resolution / 2;
            keep(uncertainties_, *of_set.resolution_input,
                 {fmt::format("IF({0}<{1}/2,{1}/SQRT(12),0)", s, q),
                  row.used->value < half ? *of_set.resolution / std::sqrt(12.0) : 0.0},
                 evaluation.graph.inputs()[of_set.resolution_input->index].standard_uncertainty);
        }
    }
}

void MeanFormulas::write_groups()
{
    const auto& graph = dossier_.evaluation.graph;
    for (std::size_t index = 0; index < graph.groups().size(); ++index) {
        const auto& group = graph.groups()[index];
        const auto set_of = [&](std::size_t member) -> std::optional<std::size_t> {
            const auto found = set_of_input_.find(group.members[member].index);
            return found == set_of_input_.end() ? std::nullopt : std::optional(found->second);
        };
        if (const auto first = group.members.empty() ? std::nullopt : set_of(0);
            first && rows_[*first].freedom)
            if (auto good = if_agrees(
                    cell(*first, column::set_freedom, dossier_.evaluation.sets[*first].degrees_of_freedom),
                    group.degrees_of_freedom))
                group_freedoms_[index] = *good;
        for (const auto& pair : map_.pairs(index)) {
            const auto a = set_of(pair.a), b = set_of(pair.b);
            if (!a || !b || partners_[*a] != b || !rows_[*a].pair_covariance)
                continue;
            const auto n = static_cast<double>(dossier_.evaluation.sets[*a].n);
            const auto n_cell = map_.set_cell(*a, column::set_n);
            const auto own = map_.set_cell(*a, set_pair_covariance);
            const auto factor_of = [&](std::size_t of) {
                return fmt::format("({0}-1)/({1}-1)", map_.set_cell(of, column::set_n),
                                   map_.set_cell(of, column::set_factor));
            };
            auto good = if_agrees({fmt::format("{}*MAX({},{})/{}", own, factor_of(*a), factor_of(*b), n_cell),
                                   rows_[*a].pair_covariance->value * std::max(factor(*a), factor(*b)) / n},
                                  pair.covariance);
            if (!good && pool_of_set_[*a] && pools_[*pool_of_set_[*a]].relative_covariance) {
                const auto pool_row = first_row + static_cast<std::uint32_t>(*pool_of_set_[*a]);
                const auto& pool = pools_[*pool_of_set_[*a]];
                if (const auto factor = pooled_factor(*a))
                    good =
                        if_agrees({fmt::format("{}*{}*{}*{}", reference("pools", {pool_row, pool_covariance}),
                                               map_.set_cell(*a, column::set_mean),
                                               map_.set_cell(*b, column::set_mean), factor->text),
                                   pool.relative_covariance->value * dossier_.evaluation.sets[*a].mean *
                                       dossier_.evaluation.sets[*b].mean * factor->value},
                                  pair.covariance);
            }
            if (good)
                covariances_[{index, pair.a, pair.b}] = *good;
        }
    }
}

}  // namespace luxdossier::workbook
